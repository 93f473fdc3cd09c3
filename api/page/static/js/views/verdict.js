/** The decision of an answer: its name among the messages, and its mark. */

/** The mark that stands for each decision. */
export const VERDICT_MARKS = { release: "release", go_on: "go_on", put_right: "major", stop_and_refer: "critical", incomplete: "incomplete", wait: "incomplete" };

/** The name of the decision among the messages: with the step that follows where the foot goes on. */
export function verdict({ decision, next }) {
  return decision === "go_on" ? `go_on_${next}` : decision;
}
