/** Where a fitting has what is observed: written by `python -m api.page.write_observables`, not by hand. */

/** The list of nails. */
export const NAILS = "observations.nails";

/**
 * By quantity, or by the field's own name where it is stated in none: the unit of a number, and each field with its
 * place. A field of a nail has its key in the nail instead of a path. What is stated, and not only computed from, has
 * its control, and its criterion: null for a size of shoe or hoof.
 *
 * @typedef {{path?: string, key?: string, place: string}} Field
 * @type {Record<string, {unit: string|null, control?: string, criterion?: string|null, fields: Field[]}>}
 */
export const OBSERVABLES = {
  wall_thickness: {"unit": "mm", "control": "number", "criterion": null, "fields": [{"path": "hoof.wall_thickness", "place": "foot"}]},
  sole_thickness: {"unit": "mm", "control": "number", "criterion": null, "fields": [{"path": "hoof.sole_thickness", "place": "foot"}]},
  wall_height: {"unit": "mm", "control": "number", "criterion": null, "fields": [{"path": "hoof.wall_height", "place": "foot"}]},
  wall_angle: {"unit": "deg", "control": "number", "criterion": null, "fields": [{"path": "hoof.wall_angle", "place": "foot"}]},
  shoe_thickness: {"unit": "mm", "control": "number", "criterion": null, "fields": [{"path": "shoe.thickness", "place": "foot"}]},
  shoe_length: {"unit": "mm", "control": "number", "criterion": null, "fields": [{"path": "shoe.length", "place": "foot"}]},
  length: {"unit": "mm", "control": "number", "criterion": "heel_fit", "fields": [{"path": "observations.heel_fit.medial.length", "place": "medial_heel"}, {"path": "observations.heel_fit.lateral.length", "place": "lateral_heel"}]},
  width: {"unit": "mm", "control": "number", "criterion": "heel_fit", "fields": [{"path": "observations.heel_fit.medial.width", "place": "medial_heel"}, {"path": "observations.heel_fit.lateral.width", "place": "lateral_heel"}]},
  frog_gap: {"unit": "mm", "control": "number", "criterion": "heel_fit", "fields": [{"path": "observations.heel_fit.medial.frog_gap", "place": "medial_heel"}, {"path": "observations.heel_fit.lateral.frog_gap", "place": "lateral_heel"}]},
  overhang: {"unit": "mm", "control": "number", "criterion": "toe_fit", "fields": [{"path": "observations.toe_fit.overhang", "place": "toe"}, {"path": "observations.toe_fit.medial_overhang", "place": "medial_quarter"}, {"path": "observations.toe_fit.lateral_overhang", "place": "lateral_quarter"}]},
  clip_height: {"unit": "mm", "control": "number", "criterion": "toe_fit", "fields": [{"path": "observations.toe_fit.clip_height", "place": "toe"}]},
  wall_rasped_back: {"unit": null, "control": "flag", "criterion": "toe_fit", "fields": [{"path": "observations.toe_fit.wall_rasped_back", "place": "toe"}]},
  clip: {"unit": null, "control": "choice", "criterion": "toe_fit", "fields": [{"path": "observations.toe_fit.clip", "place": "toe"}]},
  rocks: {"unit": null, "control": "flag", "criterion": "levelness", "fields": [{"path": "observations.levelness.rocks", "place": "foot"}]},
  gap: {"unit": "mm", "control": "number", "criterion": "levelness", "fields": [{"path": "observations.levelness.gaps.toe", "place": "toe"}, {"path": "observations.levelness.gaps.medial_quarter", "place": "medial_quarter"}, {"path": "observations.levelness.gaps.lateral_quarter", "place": "lateral_quarter"}, {"path": "observations.levelness.gaps.medial_heel", "place": "medial_heel"}, {"path": "observations.levelness.gaps.lateral_heel", "place": "lateral_heel"}]},
  exit_height: {"unit": "mm", "control": "number", "criterion": "nails", "fields": [{"key": "exit_height", "place": "nail"}]},
  position: {"unit": "1", "control": "number", "criterion": "nails", "fields": [{"key": "position", "place": "nail"}]},
  hole_inset: {"unit": "mm", "control": "number", "criterion": "nails", "fields": [{"key": "hole_inset", "place": "nail"}]},
  sound: {"unit": null, "control": "choice", "criterion": "nails", "fields": [{"key": "sound", "place": "nail"}]},
  reaction: {"unit": null, "control": "choice", "criterion": "nails", "fields": [{"key": "reaction", "place": "nail"}]},
  blood: {"unit": null, "control": "flag", "criterion": "nails", "fields": [{"key": "blood", "place": "nail"}]},
  clinch: {"unit": null, "control": "choice", "criterion": "clinches", "fields": [{"key": "clinch", "place": "nail"}]},
  coverage: {"unit": "1", "control": "number", "criterion": "scorch", "fields": [{"path": "observations.scorch.coverage", "place": "foot"}]},
  contact_time: {"unit": "s", "control": "number", "criterion": "scorch", "fields": [{"path": "observations.scorch.contact_time", "place": "foot"}]},
  shoe_heat: {"unit": null, "control": "choice", "criterion": "scorch", "fields": [{"path": "observations.scorch.shoe_heat", "place": "foot"}]},
  sole_scorch: {"unit": "mm", "control": "number", "criterion": "scorch", "fields": [{"path": "observations.scorch.sole_scorch", "place": "sole"}]},
  sole_pressure: {"unit": null, "control": "flag", "criterion": "scorch", "fields": [{"path": "observations.scorch.sole_pressure", "place": "sole"}]},
  hand: {"unit": null, "control": "choice", "criterion": "finish", "fields": [{"path": "observations.finish.hand", "place": "foot"}]},
  rasped_above_clinches: {"unit": null, "control": "flag", "criterion": "clinches", "fields": [{"path": "observations.finish.rasped_above_clinches", "place": "foot"}]},
  trot_up: {"unit": null, "control": "choice", "criterion": "soundness", "fields": [{"path": "observations.soundness.trot_up", "place": "foot"}]},
  old_hole_drop: {"unit": "mm", "control": "number", "criterion": "history", "fields": [{"path": "observations.history.old_hole_drop", "place": "foot"}]},
  height_difference: {"unit": "mm", "fields": [{"path": "observations.levelness.medial_height", "place": "medial_quarter"}, {"path": "observations.levelness.lateral_height", "place": "lateral_quarter"}]},
  exit_ratio: {"unit": "mm", "fields": [{"key": "wall_height", "place": "nail"}]},
  inside_temperature: {"unit": "s", "fields": [{"path": "observations.scorch.further_contact_times", "place": "foot"}]},
  last_shod: {"unit": null, "fields": [{"path": "observations.history.last_shod", "place": "foot"}]},
  fitted: {"unit": null, "fields": [{"path": "observations.history.fitted", "place": "foot"}]},
  heights: {"unit": null, "fields": [{"path": "observations.levelness.heights", "place": "foot"}]},
  arcs: {"unit": null, "fields": [{"path": "observations.scorch.arcs", "place": "foot"}]},
  outline: {"unit": null, "fields": [{"path": "observations.outline", "place": "foot"}]},
};

/** What holds for the whole foot, by path: the words of each. */
export const SITUATION = {
  foot: ["left_fore", "right_fore", "left_hind", "right_hind"],
  stage: ["hot_fit", "nailed", "finished"],
  work: ["riding", "harness", "draught"],
  hoof_form: ["regular", "acute", "upright", "base_wide", "base_narrow"],
  hot_fitted: ["yes", "no"],
};
