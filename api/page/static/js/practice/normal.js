/** The normal distribution: a series near its middle, a continued fraction in its tails. */

const FAR = 3.2;
const ROOT = Math.sqrt(2 * Math.PI);

/** How likely a standard normal number lies below `z`; right to 1e-13. */
export function below(z) {
  if (z > 38) return 1;
  if (z < -38) return 0;
  const density = Math.exp((-z * z) / 2) / ROOT;
  if (Math.abs(z) < FAR) {
    let [term, sum] = [z, z];
    for (let odd = 3; Math.abs(term) > 1e-17 * Math.abs(sum) && odd < 200; odd += 2) {
      term *= (z * z) / odd;
      sum += term;
    }
    return 0.5 + density * sum;
  }
  const far = Math.abs(z);
  let fraction = far;
  for (let step = 60; step > 0; step--) fraction = far + step / fraction;
  const tail = density / fraction;
  return z < 0 ? tail : 1 - tail;
}
