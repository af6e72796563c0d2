// The steps of the job and what is chosen in each: every field is an option of a command, its text the option's value.

/**
 * @typedef {{
 *   option: string, name: string, hint?: string, kind?: 'text'|'area'|'choice'|'switch', short?: boolean,
 *   choices?: [string, string][], more?: boolean, clears?: boolean,
 * }} Field
 * `more`: folded away. `clears`: an empty text is an answer too; it takes away what the record in the folder says. The first of `choices` is the one without the option.
 * @typedef {{id: string, word: string, command: string|null, run: string|null, runs: string, lead: string, fields: Field[]}} Step
 */

const LINES = /** @type {[string, string][]} */ ([['', 'chord line: from edge to edge'], ['face', 'face line: what a protractor on a flat face reads']]);
const HANDS = /** @type {[string, string][]} */ ([['', 'as the shape shows'], ['right', 'right: clockwise seen from behind'], ['left', 'left: anticlockwise seen from behind']]);

/** @type {Step[]} */
export const STEPS = [
  { id: 'scan', word: 'Scan', command: null, run: null, runs: '', lead: 'Drop the file of the scan: PLY, STL, OBJ or GLB. A copy is kept in the folder of the job as it is.', fields: [] },
  {
    id: 'size', word: 'Size', command: 'measure', run: 'measure', runs: 'Measure', lead: 'A scan has no size of its own. Give at least one length as it was measured on the part, with its unit: 1300mm, 50 1/4in, 4ft2in. One is enough for the table; then press Measure.',
    fields: [
      { option: 'length', name: 'Length of a single blade', hint: 'From the root end to the tip.', short: true },
      { option: 'diameter', name: 'Diameter of the propeller', hint: 'Across the circle of the tips.', short: true },
      { option: 'root-radius', name: 'Root radius of a single blade', hint: 'From the axis of rotation to the root end. It follows from length and diameter if both are given.', short: true },
      { option: 'unit', name: 'Unit of the scan’s file', kind: 'choice', choices: [['', 'not known: a length above says it'], ['mm', 'mm'], ['cm', 'cm'], ['m', 'm'], ['in', 'in'], ['ft', 'ft']] },
      { option: 'units', name: 'Show lengths in', kind: 'choice', choices: [['', 'the unit that was typed'], ['mm', 'mm'], ['in', 'in']] },
      { option: 'length-uncertainty', name: 'Standard uncertainty of the length', hint: 'Without it 0.5 mm, that of a tape.', short: true, more: true },
      { option: 'resolution', name: 'Resolution of the scan', hint: 'The smallest width that it shows, e.g. 2mm. Without it, it is estimated from the noise.', short: true, more: true },
      { option: 'scan-accuracy', name: 'Accuracy of the scan over long distances', hint: 'As its report states it, e.g. 0.2mm, a standard uncertainty.', short: true, more: true },
    ],
  },
  {
    id: 'blade', word: 'Blade', command: 'measure', run: 'measure', runs: 'Measure', lead: 'What was found is marked on the picture. Press a mark, or a button here, to overrule it; the blade is then measured again.',
    fields: [
      { option: 'hand', name: 'Hand of the propeller', kind: 'choice', choices: HANDS },
      { option: 'setting', name: 'Known blade angle', hint: 'Of a single blade. 22.5deg@0.75 is 22.5 degrees at 0.75 of the tip radius, as read with a protractor against the plane of rotation. Without it angles are relative.', short: true },
      { option: 'setting-of', name: 'That angle is of the', kind: 'choice', choices: LINES },
      { option: 'sections', name: 'Sections are cut on', kind: 'choice', choices: [['', 'planes across the span'], ['cylinder', 'cylinders about the axis, as on drawings of screws']] },
    ],
  },
  {
    id: 'stations', word: 'Stations', command: 'measure', run: 'measure', runs: 'Measure', lead: 'Drag a station along the blade, or move it with the arrow keys: its section follows with a quick fit. Measure again to keep what you see. R is the tip radius: a station at 0.5 R is half way from the axis of rotation to the tip.',
    fields: [
      { option: 'stations', name: 'Number of even stations', hint: '3 to 1000; without it 24.', short: true },
      { option: 'at', name: 'Stations', hint: 'Fractions of the tip radius, 0.3,0.45,0.75, or radii, 12in,18in. They stand in place of a number.' },
    ],
  },
  { id: 'readings', word: 'Readings', command: 'measure', run: 'measure', runs: 'Measure', lead: 'What calipers, protractor or tape show on the part itself is compared with the scan. Add each reading, then measure again.', fields: [] },
  {
    id: 'record', word: 'Record', command: 'measure', run: 'measure', runs: 'Measure and write the record', lead: 'What is known of the part. It goes with the table onto the record, the page record.html in the folder of the job, which opens in any browser and prints.',
    fields: [
      { option: 'title', name: 'Title', hint: 'Which part this is.', clears: true },
      { option: 'part-note', name: 'Condition and history', kind: 'area', clears: true },
      { option: 'maker', name: 'Maker', clears: true },
      { option: 'number', name: 'Number on the part', clears: true },
      { option: 'owner', name: 'Owner', clears: true },
      { option: 'scanned-by', name: 'Scanned by', clears: true },
      { option: 'scanned-with', name: 'Scanned with', hint: 'Scanner or camera, and its software.', clears: true },
      { option: 'accession-number', name: 'Number in the collection', more: true, clears: true },
      { option: 'date', name: 'Date of the record', hint: 'Year, month and day: 2026-01-31. Without it today, UTC.', short: true, more: true, clears: true },
      { option: 'density', name: 'Density', hint: 'The same throughout, e.g. 0.68g/cm3: the mass is then shown beside the volume.', short: true, more: true, clears: true },
    ],
  },
  {
    id: 'prediction', word: 'Prediction', command: 'predict', run: 'predict', runs: 'Predict', lead: 'Thrust, power and efficiency of a propeller with this blade. The first time the polars, lift and drag of the sections, take about a minute or more; they are kept.',
    fields: [
      { option: 'blades', name: 'Number of blades', short: true },
      { option: 'rpm', name: 'Rotational speed', hint: 'Revolutions per minute.', short: true },
      { option: 'speed', name: 'Flight speed', hint: '120mph; several: 70mph,110mph; standing: 0m/s.', short: true },
      { option: 'setting', name: 'Blade setting', hint: '17deg@0.75: 17 degrees at 0.75 of the tip radius. 5:30:1@0.75: every degree from 5 to 30. Needed where the table has relative angles.', short: true },
      { option: 'setting-of', name: 'The setting is of the', kind: 'choice', choices: LINES, more: true },
      { option: 'power', name: 'Power of the engine', hint: '120hp@2600rpm: an engine of this torque at every speed. 240hp alone: the setting that absorbs it is sought.', short: true },
      { option: 'max-rpm', name: 'Greatest rotational speed of the engine', hint: 'With a power at its speed and several flight speeds: the fixed setting that suits them best.', short: true, more: true },
      { option: 'diameter', name: 'Diameter', hint: 'Without it that of the table.', short: true, more: true },
      { option: 'advance', name: 'Advance ratios in place of a flight speed', hint: '0.2:1.2:0.05: from 0.2 to 1.2 in steps of 0.05.', short: true, more: true },
      { option: 'altitude', name: 'Altitude', hint: '1500ft', short: true, more: true },
      { option: 'warmer', name: 'Warmer than the standard atmosphere by', hint: 'Kelvin.', short: true, more: true },
      { option: 'fluid', name: 'The propeller works in', kind: 'choice', choices: [['', 'air'], ['freshwater', 'fresh water'], ['seawater', 'sea water']], more: true },
      { option: 'temperature', name: 'Temperature of the water', hint: 'Degrees Celsius.', short: true, more: true },
      { option: 'depth', name: 'Depth of the shaft', hint: '1.5m; without it cavitation is not judged.', short: true, more: true },
      { option: 'spinner', name: 'Diameter of the spinner', short: true, more: true },
      { option: 'blunt-hub', name: 'Diameter of a hub without spinner', short: true, more: true },
      { option: 'shank-diameter', name: 'Diameter of a round shank', short: true, more: true },
      { option: 'body', name: 'Diameter of the body behind', hint: 'Nacelle or fuselage.', short: true, more: true },
      { option: 'body-length', name: 'Length of that body', short: true, more: true },
      { option: 'surface', name: 'Surface', kind: 'choice', choices: [['', 'old: between smooth and rough'], ['smooth', 'smooth'], ['rough', 'rough']], more: true },
      { option: 'no-free-wake', name: 'Skip the free wake near rest', kind: 'switch', more: true },
    ],
  },
  {
    id: 'solid', word: 'Solid', command: 'solid', run: 'stl', runs: 'Make propeller.stl', lead: 'A clean propeller from the table: closed triangles, one smooth solid, or full-size templates of the sections.',
    fields: [
      { option: 'blades', name: 'Number of blades', hint: 'One without a hub makes a single closed blade.', short: true },
      { option: 'hub-diameter', name: 'Diameter of the hub', hint: 'Without it as measured, or just large enough for the blades.', short: true },
      { option: 'hub-length', name: 'Length of the hub', hint: 'Without it as measured, or just long enough.', short: true },
      { option: 'setting', name: 'Blade setting', hint: '20deg@0.75: 20 degrees at 0.75 of the tip radius. Without it as in the table.', short: true },
      { option: 'setting-of', name: 'The setting is of the', kind: 'choice', choices: LINES, more: true },
      { option: 'nose-length', name: 'Length of the rounded nose', hint: '0mm makes a flat front.', short: true, more: true },
      { option: 'bore', name: 'Diameter of the bore', hint: 'Without it as measured; 0mm makes a full hub.', short: true, more: true },
      { option: 'bolts', name: 'Bolt holes', hint: '8x10mm@114mm: eight holes of 10 mm on a circle of 114 mm; @22.5deg behind it: the first one from the first blade. Without it as measured; none: no holes.', short: true, more: true },
      { option: 'shank-diameter', name: 'Diameter of a round shank', short: true, more: true },
      { option: 'diameter', name: 'Diameter', hint: 'The blade is moved along its axis to match.', short: true, more: true },
      { option: 'hand', name: 'Hand', kind: 'choice', choices: [['', 'as in the table'], ['right', 'right'], ['left', 'left']], more: true },
      { option: 'tolerance', name: 'Greatest distance of facets', hint: 'From the smooth surface; without it 0.05mm.', short: true, more: true },
      { option: 'unit', name: 'Unit of the file', kind: 'choice', choices: [['', 'mm'], ['m', 'm']], more: true },
      { option: 'density', name: 'Density of the material', hint: '680kg/m3: mass and moments of inertia are told.', short: true, more: true },
      { option: 'without', name: 'Stations to leave out', hint: '0.3,0.45: those at 0.3 and 0.45 of the tip radius.', short: true, more: true },
    ],
  },
];

/** What may be read by hand: word, name, example. */
export const READINGS = [
  ['thickness', 'Thickness (calipers)', '24.8mm'], ['chord', 'Chord (calipers)', '195mm'], ['longest-chord', 'Longest chord (calipers)', '196mm'],
  ['face-angle', 'Face angle (protractor)', '18.5deg'], ['blade-angle', 'Blade angle (protractor)', '20deg'], ['length', 'Length between two stations (tape)', '512mm'],
];

/** The step and field of an option of a command, e.g. where a sentence names it. @param {string} option @param {string} command */
export const fieldOf = (option, command) => {
  if (option === 'reading') return { step: 'readings', option };
  if (option === 'swap') return { step: 'blade', option };
  if (option === 'distance') return { step: 'size', option };
  const step = STEPS.find(s => s.command === command && s.fields.some(f => f.option === option));
  return step ? { step: step.id, option } : null;
};
