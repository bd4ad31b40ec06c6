// Made by tools/build_api_types.py from the server's OpenAPI description; do not change.

/** A paint more, by name; unknown: its pigment is, and hue says its colour. */
export interface Added {
  name: string;
  unknown: boolean;
  hue: string | null;
}

/** A part of the picture changed before it is planned. colour: wanted, "#rrggbb". */
export interface Area {
  kind: "leave out" | "lighten" | "darken" | "recolour";
  outline: [number, number][];
  amount: number;
  colour: string | null;
}

/** How the background is treated, and what the painter marked of it. */
export interface Background {
  treatment: "painted" | "bare" | "graded";
  marks: Mark[];
}

/** One coat of the section. */
export interface Band {
  layer: number;
  wash: number;
  letter: string;
  kind: string;
  parts_words: string;
  parts: Part[];
  strength: number;
  wash_strength: number;
  step: number;
  stroke: string;
  seen: Colour;
  lighter: string;
  darker: string;
  thickness: number;
  less: Leaning;
  more: Leaning;
  effect: string;
  technique: string;
  edges: string;
  into: number | null;
  locked: boolean;
  puddle_locked: boolean;
  why: string;
  numbers: [string, string][];
}

/** Base of what the page sends: which revision it was looking at. */
export interface Based {
  base: string;
}

/** A job that was begun. */
export interface Begun {
  job: string;
}

/** A spot's colour, "#rrggbb", and the grey of its value. */
export interface BesideGreyView {
  hex: string;
  grey: string;
  words: string;
}

/** One screen at the board. */
export interface BoardStep {
  id: string;
  kind: "caution" | "reserve" | "mix" | "wash" | "wait" | "dry" | "unmask" | "strokes";
  layer: number;
  title: string;
  say: string[];
  cells: number[];
  touches: number[];
  minutes: [number, number, number] | null;
  timed: boolean;
  puddles: PuddleToMix[];
  wash: WashToLay | null;
  numbers: [string, string][];
}

/** Everything accepted of one painting. */
export interface Brief {
  version: 1;
  scene: Scene;
  paints: string[];
  work: Work;
  values: Values;
  grid: Grid;
  drawing: DrawingFile | null;
  plan: PlanFile | null;
  kept: Kept;
}

/** What the painter says of the painting; "" is left off. */
export interface Caption {
  title: string;
  painter: string;
  year: string;
  remark: string;
}

/** One card. number: its folder's; paints: keys of its rows; files: what can be looked at; */
export interface CardFile {
  number: number;
  paints: string[];
  by_hand: boolean;
  files: string[];
  is_read: boolean;
  warnings: string[];
  learnt: LearntPaint[];
}

/** A change of what is asked; what is left out stays. words: what the painter did. */
export interface Changed {
  base: string;
  words: string;
  scene: Scene | null;
  paints: string[] | null;
  work: Work | null;
  values: Values | null;
  grid: Grid | null;
}

/** One paint of the chart. */
export interface ChartPaint {
  key: string;
  name: string;
  lower: string;
  lower_step: number;
  lower_share: number;
  upper: string;
  upper_step: number;
  upper_share: number;
}

/** address: where to listen; None for the likeliest. */
export interface Choice {
  address: string | null;
}

/** A drying clock. ends: seconds since 1970 when it rings; minutes: it was set to. */
export interface Clock {
  step: string;
  ends: number;
  minutes: number;
}

/** A colour as the page shows and tells it. */
export interface Colour {
  hex: string;
  words: string;
  step: number;
}

/** Two stacks beside each other. coats: as they may be typed; words: the gist of it. */
export interface Compared {
  first_coats: string[];
  second_coats: string[];
  lights: UnderLight[];
  words: string;
}

/** How many shapes at most. */
export interface Counted {
  base: string;
  count: number;
}

/** How the finished painting differs from the photo. close, half_step, clear: shares of the */
export interface DifferenceTold {
  words: string;
  close: number;
  half_step: number;
  clear: number;
  numbers: [string, string][];
}

/** The shapes as they are drawn. labels: key of their map; details: reserves and edge marks. */
export interface DrawingFile {
  labels: string;
  details: string;
  by_hand: boolean;
}

/** The list as it was. words: what was done then; created: seconds since 1970. */
export interface Earlier {
  version: number;
  words: string;
  created: number;
  text: string;
}

/** A stroke along a border, and what edge it is to be. */
export interface Edged {
  base: string;
  stroke: [number, number][];
  edge: "hard" | "soft" | "lost";
}

/** How many paintings left the bin for good. */
export interface Emptied {
  gone: number;
}

/** What there is of a finished painting. */
export interface Finished {
  caption: Caption;
  photo: string;
  seen: boolean;
  lost: string;
  corners: [[number, number], [number, number], [number, number], [number, number]] | null;
  touched: boolean;
  ready: boolean;
  fresh: boolean;
  made: string;
  line: string;
  notes: string[];
}

/** One first wash for the area. */
export interface FirstChoice {
  name: string;
  points: string[];
  rules: string[];
  hex: string;
  strip: string[][];
  either: boolean;
  planned: boolean;
  mixture: Record<string, number> | string | null;
  strength: number | null;
  numbers: [string, string][];
}

/** First washes for the area touched, best first. */
export interface FirstChoices {
  verdict: string;
  number: number | null;
  choices: FirstChoice[];
}

/** Every paint over every other. */
export interface GlazeChart {
  paints: ChartPaint[];
  fields: GlazeField[][];
  light: string;
  light_words: string;
  paper: string;
  greys: [number, number][];
  orders: [number, number][];
  notes: string[];
}

/** One field: a glaze over a first wash. */
export interface GlazeField {
  hex: string;
  lighter: string;
  darker: string;
  step: number;
  words: string;
  sure: string;
  grey: boolean;
  order: number;
  order_tells: boolean;
  numbers: [string, string][];
}

/** A step to a revision of the history. */
export interface Gone {
  base: string;
  to: string;
}

/** A glaze of one or two paints that leaves no colour. */
export interface Grey {
  parts: Part[];
  parts_words: string;
  strength: number;
  stroke: string;
  before: Colour;
  shown: Colour;
  leans: GreyLean[];
  words: string;
  numbers: [string, string][];
}

/** Where a grey goes with a quarter less and a quarter more of one paint: "#rrggbb", word. */
export interface GreyLean {
  key: string;
  name: string;
  less: string;
  less_word: string;
  more: string;
  more_word: string;
}

/** A drawing grid over the picture; across: squares from left to right, None for none. */
export interface Grid {
  across: number | null;
  diagonals: boolean;
}

export interface HTTPValidationError {
  detail: ValidationError[];
}

/** What the painter locked, by names of the plan. */
export interface Kept {
  washes: [number, number][];
  puddles: string[];
  paints: string[];
  layers: number[];
}

/** What is kept from now on. */
export interface KeptMore {
  base: string;
  kept: Kept;
}

/** One layer: its title, what it is for, how long it takes, its lines and washes. */
export interface LayerView {
  number: number;
  title: string;
  time: string;
  dry: string;
  hair: string;
  steps: StepView[];
  washes: WashView[];
  locked: boolean;
}

/** A coat laid a quarter weaker or stronger. */
export interface Leaning {
  seen: string;
  end: string;
  words: string;
}

/** What a card taught of one paint. was, now: words on how sure; again: swatches to repaint. */
export interface LearntPaint {
  key: string;
  name: string;
  was: string;
  now: string;
  again: string;
}

/** What a teacher says about a lesson. Empty texts are left off the pages. */
export interface Lesson {
  title: string;
  teacher: string;
  licence: string;
  photo_author: string;
  photo_source: string;
  photo_permission: string;
  for_sale: boolean;
  students: number;
  minutes_per_meeting: number;
  page: "A4" | "Letter";
  language: string;
}

/** What the light does in the picture. sentences: for reading; numbers: for those who ask. */
export interface LightLook {
  sentences: string[];
  numbers: [string, string][];
}

/** One part of the shape. name: "In the light"; hex: "#rrggbb" as seen there; words: what the */
export interface LitPart {
  name: string;
  hex: string;
  words: string;
  share: number;
}

/** Whether a hand-out lies ready. fresh: of the plan and the settings as they are now; warning: */
export interface Made {
  ready: boolean;
  fresh: boolean;
  name: string;
  warning: string;
}

/** A stroke of the painter's finger on the sheet. width: fraction of the sheet's width. */
export interface Mark {
  kind: "background" | "subject";
  points: [number, number][];
  width: number;
}

/** Where the painter is at the board. */
export interface Marks {
  version: number;
  plan: string;
  step: string;
  ticked: string[];
  clock: Clock | null;
}

/** A wash at another strength. */
export interface Moved {
  layer: number;
  number: number;
  strength: number;
  factor: number;
  step: number;
  stroke: string;
  cells: number[];
  colours: string[][];
  cell: number;
  seen: string[];
  lighter: string;
  darker: string;
  end: Colour;
  words: string;
  numbers: [string, string][];
}

/** A fine stroke under the finger or beside it. */
export interface NearStroke {
  index: number;
  kind: string;
  words: string;
  colour: Colour;
  letter: string | null;
  distance_mm: number;
}

/** Another mixture for a wash. */
export interface OtherMixture {
  parts: Record<string, number> | string;
  strength: number;
  paints: Part[];
  parts_words: string;
  puddle: string | null;
  stroke: string;
  step: number;
  end: Colour;
  before: Colour;
  words: string;
  numbers: [string, string][];
}

/** The painter's list. own: whether the painter wrote it, or it is still the starter set. */
export interface OwnPaints {
  own: boolean;
  text: string;
  stamp: string;
  paper: string;
  paper_known: string;
  caution: string;
  paints: PaintCard[];
  cards: CardFile[];
}

/** One paint for the list of paints. */
export interface PaintCard {
  key: string;
  name: string;
  pigments: string[];
  strip: string[];
  darkest: number;
  provenance: string;
  known_by: string;
  sure: string;
  handling: string;
  lightfast: string;
  caution: string;
  mind: string;
  source: string;
  about: string;
  listed: boolean;
  form: string;
  fill: string;
  favourite: boolean;
  banned: boolean;
  note: string;
  numbers: [string, string][];
}

/** One painting, as a list of paintings needs it. */
export interface Painting {
  id: string;
  name: string;
  created: number;
  changed: number;
  binned: number | null;
  head: string;
  thumbnail: string | null;
}

/** Everything the page needs to show a painting. */
export interface PaintingView {
  id: string;
  name: string;
  revision: string;
  can_step_back: boolean;
  can_step_forward: boolean;
  words: string;
  brief: Brief;
  scene: string;
  sheet: string;
  width_mm: number;
  height_mm: number;
  photos: PhotoView[];
  plan: PlanView | null;
  problem: string;
  liked: Preferences;
}

/** One paint on the palette. mind: harm and fading in a few words, "" for neither. */
export interface PaletteView {
  key: string;
  name: string;
  strip: string[];
  provenance: string;
  mind: string;
  locked: boolean;
}

/** One paint in a puddle. parts: whole parts at its own full strength; share: of them, 0-1. */
export interface Part {
  key: string;
  name: string;
  parts: number;
  share: number;
}

/** One photo of the scene. width, height: set upright, pixels; crop: the part that fills the */
export interface PhotoView {
  name: string;
  width: number;
  height: number;
  crop: [number, number, number, number];
}

/** One reference photo and what is done to it before it lies on the sheet. */
export interface Picture {
  file: string;
  name: string;
  size: [number, number];
  turns: number;
  tilt: number;
  mirrored: boolean;
  neutral: [number, number] | null;
  crop: [number, number, number, number] | null;
  place: Place | null;
}

/** pattern: the big masses; ends: lightest lights, darkest darks; reach: what the ticked paints */
export interface PictureLook {
  pattern: string;
  ends: string;
  reach: string;
}

/** Where a further picture lies on the sheet; its height follows from its proportions. */
export interface Place {
  left: number;
  top: number;
  width: number;
}

/** A finished plan and what it was made from. */
export interface PlanFile {
  document: string;
  cells: string;
  scene: Scene;
  paints: string[];
  work: Work;
  judged: boolean;
}

/** A plan for the page. stamp: names its pictures. stale: made for something else than is */
export interface PlanView {
  stamp: string;
  stale: boolean;
  judged: boolean;
  width_mm: number;
  height_mm: number;
  cells: number;
  shapes: number;
  layers: LayerView[];
  puddles: PuddleView[];
  palette: PaletteView[];
  summary: string;
  time: string;
  bare: string;
  keeps: string[];
  strokes: string[];
  notes: string[];
  quality: string;
  numbers: [string, string][];
}

/** How the painter likes things told. units: "cm" or "in"; measure: "tubes" or "pans". */
export interface Preferences {
  units: string;
  measure: string;
}

/** A card to print. */
export interface Printed {
  paints: string[];
  size: "A4" | "Letter";
  loads: "drops" | "brush-loads";
  by_hand: boolean;
}

/** One puddle of a mix step. */
export interface PuddleToMix {
  letter: string;
  fresh: boolean;
  parts_words: string;
  parts: Part[];
  colour: string;
  step: number;
  wet: string;
  tubes: string;
  pans: string;
  consistency: string;
  test: string;
  strip: string[];
  uses: number[];
}

/** One puddle. strips: of its parts, each in its own colour; strip: of the mixture. */
export interface PuddleView {
  letter: string;
  parts: Part[];
  words: string;
  strip: string[];
  strips: string[][];
  runny: string;
  tubes: string;
  pans: string;
  dries: string;
  layers: number[];
  area: string;
  wet: string;
  dry: string;
  locked: boolean;
}

/** Another colour for the shape at a spot. colour: "#rrggbb". */
export interface Recoloured {
  base: string;
  x_mm: number;
  y_mm: number;
  colour: string;
}

/** Another name for a painting. */
export interface Renamed {
  name: string;
}

/** Other words on a paint; what is left out stays. */
export interface Said {
  favourite: boolean | null;
  banned: boolean | null;
  form: "pan" | "half pan" | "tube" | null;
  fill: "new" | "half empty" | "nearly empty" | "empty" | null;
  note: string | null;
}

/** The picture to paint: photos on a sheet, edited. */
export interface Scene {
  pictures: Picture[];
  sheet: SheetAsked;
  background: Background;
  focal: [number, number, number, number] | null;
  areas: Area[];
}

/** One stack under one light: colours after 0, 1, … coats, and ends of the last one's range. */
export interface SeenStack {
  seen: Colour[];
  lighter: string;
  darker: string;
}

/** All steps, and where the painter is. */
export interface Session {
  plan: string;
  steps: BoardStep[];
  marks: Marks;
}

/** The sheet of paper as the painter would say it. lie: how it lies in front of the painter. */
export interface SheetAsked {
  size: string;
  lie: "as the photo" | "upright" | "across";
  weight_gsm: number;
  surface: "hot-pressed" | "cold-pressed" | "rough";
}

/** Everything about one spot. */
export interface SpotAnswer {
  x_mm: number;
  y_mm: number;
  cell: number;
  shape: number;
  photo: Colour;
  aim: Colour;
  shown: Colour;
  lighter: string;
  darker: string;
  miss: string;
  sure: string;
  paper: Colour;
  bands: Band[];
  stages: string[];
  strokes: NearStroke[];
  note: string;
  numbers: [string, string][];
}

/** The light on the shape touched. own: its own colour in white light; words: sentences. */
export interface SpotLight {
  own: Colour;
  parts: LitPart[];
  words: string;
  numbers: [string, string][];
}

/** Have the photo squared. corners: of the sheet, as shares of the photo's width and height, */
export interface Squaring {
  base: string;
  corners: [[number, number], [number, number], [number, number], [number, number]] | null;
}

/** Two stacks of coats, bottom to top; a coat is shares of full coats by paint key. */
export interface Stacks {
  first: Record<string, number>[];
  second: Record<string, number>[];
}

/** One line of a painting's history. */
export interface Step {
  id: string;
  parent: string | null;
  words: string;
  kind: string;
  created: number;
  thumbnail: string | null;
  is_head: boolean;
}

/** A line of a layer: washes laid one after another, with words before them, or a wait. */
export interface StepView {
  kind: string;
  words: string;
  washes: number[];
  minutes: number;
}

/** A stroke over the sheet, mm from its upper left corner. */
export interface Stroked {
  base: string;
  stroke: [number, number][];
}

/** A wash at another strength. refit: let the washes over it make up for it. */
export interface Stronger {
  base: string;
  layer: number;
  number: number;
  strength: number;
  refit: boolean;
}

/** A wash out of another puddle: its letter, or parts of paints by key. */
export interface Swapped {
  base: string;
  layer: number;
  number: number;
  mixture: string | Record<string, number>;
  strength: number | null;
}

/** Both stacks under one light. */
export interface UnderLight {
  light: string;
  light_words: string;
  first: SeenStack;
  second: SeenStack;
  match: string;
  difference: string;
  numbers: [string, string][];
}

export interface ValidationError {
  loc: (string | number)[];
  msg: string;
  type: string;
  input: unknown;
  ctx: object;
}

/** One value step. name: as the painter counts it; share: of the sheet, 0-1. */
export interface ValueStep {
  name: string;
  hex: string;
  share: number;
}

/** Value steps, dark to light, and what stays white, in words. */
export interface ValueStudy {
  steps: ValueStep[];
  whites: string;
}

/** How the painter likes to see values: steps, numbered from light or dark, and squint. */
export interface Values {
  steps: number;
  first: "light" | "dark";
  squint: number;
}

/** A hand-out to be made. detail: 0-1, of the outline; grid: squares across, or None. */
export interface Wanted {
  base: string;
  detail: number;
  grid: number | null;
}

/** The wash of a wash step. */
export interface WashToLay {
  number: number;
  letter: string;
  parts_words: string;
  parts: Part[];
  consistency: string;
  test: string;
  step: number;
  stroke: string;
  technique: string;
  paper: string;
  where: string;
  area: string;
  edges: string;
  keep: string;
  goes: string;
  run: string;
  before: string;
  after: string;
  into: number | null;
  bare: number[];
  kept: number[];
  mistakes: string[];
}

/** One wash. label: as on the map, the puddle's letter and a small number where the layer has */
export interface WashView {
  layer: number;
  number: number;
  letter: string;
  label: string;
  step: number;
  stroke: string;
  seen: string;
  seen_words: string;
  before_words: string;
  how: string;
  where: string;
  edges: string;
  locked: boolean;
  cells: number[];
  strength: number;
}

/** Why a coat makes the spot look as it does. */
export interface WhySo {
  gist: string;
  sentences: string[];
  chart: string;
  numbers: [string, string][];
}

/** How much work the painter is ready for; see `firstwash.plan.problem.Limits`. */
export interface Work {
  layers: number;
  paints: number;
  puddles: number | null;
  washes: number | null;
  hours: number | null;
  shapes: number;
  touches: number;
  hand: number;
  handling: number;
  local_first: boolean;
  darkest_step: number | null;
  prefer: string[];
  ban: string[];
  min_area_mm2: number;
  min_width_mm: number;
}

/** The whole list anew. base: stamp of the list it was written on, so that nothing is lost. */
export interface Written {
  base: string | null;
  text: string;
}
