import type { Ask, AskBytes } from './calls'
import type { Refused } from './client'
import type { Air, Answer, Field, Flight, Hazard, HazardChance, HazardKind, LatLon, Region, Rocket, SawMode, Sentence, WindReading } from './generated'

export type ComesDownOn = 'parachute' | 'streamer' | 'tumble'
export type Weight = 'egg' | 'apple' | 'can' | { grams: number }
export type Width = 'snug' | 'coin' | 'two_coins' | { mm: number }
export type Size = { hands: number } | { forearms: number } | { printed_mm: number } | { mm: number }
export type Hole = 'none' | 'coin' | 'cup'
export type Joint = 'whole' | 'nose' | 'middle'

/** A stage as its flyer tells it. */
export interface StageTold {
  motor?: string | null
  comes_down_on: ComesDownOn
  weight?: Weight | null
  width?: Width | null
  length?: Size | null
  /** How wide the parachute is, or how long the streamer. */
  device?: Size | null
  hole?: Hole | null
  joint?: Joint | null
}

/** A rocket as its flyer tells it; stages from the bottom up. */
export interface RocketTold {
  name: string
  stages: StageTold[]
  colours?: string | null
  labelled?: boolean
  /** Parts that bear a number, if not every part does. */
  labels?: string[]
}

/** What should be said before it flies. */
export type Doubt = 'two_zero_delays' | 'delayed_booster' | 'plugged_booster' | 'booster_alone' | 'plugged_motor' | 'delay_unknown' | 'letter_only'

export interface Sketched {
  rocket: Rocket
  parts: string[]
  doubts: Doubt[]
}

export interface FleetRocket extends Sketched {
  id: string
  told: RocketTold | null
  to_repair: string[]
  flights: number
  last_flown: string | null
  last_failure: SawMode | null
  /** Lost or given away: its flights stay, and it can come back. */
  retired: boolean
}

export interface OnHand {
  motor: string
  on_hand: number
}

export interface Fleet {
  rockets: FleetRocket[]
  motors: OnHand[]
}

export interface Repair {
  note: string
  done: boolean
  rerigged: boolean
}

/** A place with a name on a site. */
export interface Spot extends LatLon {
  name: string
  accuracy_m?: number | null
}

export interface Permission {
  owner: string
  conditions?: string | null
  date?: string | null
}

export type ComesFirst =
  | 'open' | 'road' | 'railway' | 'houses' | 'water' | 'trees' | 'wires' | 'livestock' | 'crop' | 'playground' | 'fence'
export type HowFar = 'stones_throw' | 'football_pitch' | 'further'

export interface Looked {
  from: LatLon
  toward_deg: number
  what: ComesFirst
  how_far: HowFar
}

/** A dot of a picture, from its upper left corner. */
export interface Dot {
  right_px: number
  down_px: number
}

/** A dot of a picture and the place it shows. */
export interface KnownPoint extends Dot {
  at: LatLon
  accuracy_m: number | null
}

/** Where a picture lies, and by how much its points miss their places. */
export interface Laid {
  top_left: LatLon
  top_right: LatLon
  bottom_left: LatLon
  miss_m: number
  misses_m: number[]
  stretched: boolean
}

/** A rectangle along meridians and parallels. */
export interface TileExtent {
  north_west: LatLon
  south_east: LatLon
}

/** Which tile; rows count from the north. */
export interface Tile {
  zoom: number
  column: number
  row: number
}

export interface TileLaid {
  tile: Tile
  extent: TileExtent
}

/** What lies under the map of a field. */
export type Background =
  | { kind: 'picture'; file: string; laid: Laid }
  | { kind: 'tiles'; file: string; about: { name: string; attribution: string | null; least_zoom: number; most_zoom: number } }
  | { kind: 'missing'; file: string }

export type PhotoOf = 'rocket' | 'field' | 'flight'

export interface Photo {
  /** By which it can be set aside. */
  fact: string
  /** What it shows, if it was taken at a find. */
  part: string | null
  data: string
}

export interface Site {
  id: string
  field: Field
  pads: Spot[]
  base: Spot | null
  permissions: Permission[]
  looked: Looked[]
  /** Ground about the pads that nobody looked over, as GeoJSON; null if no look was noted. */
  unchecked: unknown
  background: Background | null
}

/** A field to be kept, new without an `id`. */
export interface KeepSite {
  id?: string
  field: Field
  pad?: Spot
  base?: Spot
  permission?: Permission
}

export interface Proposal {
  hazard: Hazard
  distance_m: number
}

export interface Proposals {
  near: Proposal[]
  far: number
  not_understood: Sentence[]
}

export interface Load {
  rocket: string
  motor?: string | null
  /** The motor of its lower stage for today, if it is not the usual one. */
  lower_motor?: string | null
  /** What it comes down on today, if that is not the usual device. */
  comes_down_on?: ComesDownOn | null
  /** How far its rod leans today, degrees. */
  tilt_deg?: number | null
  /** Which way, degrees from true north; against the wind without it. */
  lean_toward_deg?: number | null
}

export interface Plan {
  site?: string | null
  pad?: string | null
  load: Load[]
  wind_limit_mps?: number | null
  water?: boolean | null
}

export interface Loaded {
  rocket: FleetRocket
  motor: string | null
  /** The motor of its lower stage; null of a rocket of one stage, or if nobody told it. */
  lower_motor: string | null
  comes_down_on: ComesDownOn
  /** How far its rod leans, degrees; null if nobody said. */
  tilt_deg: number | null
  /** Which way, degrees from true north; null if against the wind. */
  lean_toward_deg: number | null
  /** Said of it with that motor and that device. */
  doubts: Doubt[]
  on_hand: number | null
  /** The same of the motor of its lower stage. */
  lower_on_hand: number | null
}

export interface FlownMotor {
  motor: string
  flown: number
}

/** What a file of the weather brought. */
export interface WeatherTaken {
  wind: number
  air: boolean
  unused_air: number
  day: Day
}

/** Where today's load may come down. */
export interface MayComeDown {
  pad: LatLon
  within_m: number
  toward_deg: number | null
  rockets: ComesDown[]
}

/** Where one rocket may come down with the motor and the device of today. */
export interface ComesDown {
  rocket: string
  name: string
  motor: string | null
  comes_down_on: ComesDownOn
  within_m: number
  toward_deg: number | null
  /** Of each part, the area of nine in ten. */
  areas: Region['geometry'][]
  in_field: number | null
  /** The likeliest first. */
  hazards: HazardChance[]
  cautions: Sentence[]
}

export interface OpenFlight {
  id: string
  title: string
  missing: string[]
  /** The day it flew, if that was not today. */
  since: string | null
  /** That somebody may have taken it since. */
  gone: Sentence | null
  /** Whether its rocket is none of this fleet. */
  is_friends: boolean
}

/** A reading of the wind, and whether it counts. */
export interface ToldWind {
  /** The fact, by which it can be set aside. */
  id: string
  reading: WindReading
  force: number | null
  set_aside_by: string | null
}

/** Everything about today. */
export interface Day {
  date: string
  plan: Plan
  /** The day the plan was made for, if that was not today. */
  last_time: string | null
  site: Site | null
  pad: Spot | null
  load: Loaded[]
  wind: WindReading[]
  /** Every reading somebody told today, also those that were set aside. */
  readings: ToldWind[]
  /** Winds from a file, the lowest first, and the air at the pad. */
  aloft: WindReading[]
  /** How many of them are near the ground and not used, because the wind there was told. */
  unused_near: number
  /** The fact that brought them, to be set aside. */
  weather: string | null
  air: Air | null
  /** Motors that flew today and are out of the box. */
  flown: FlownMotor[]
  force: number | null
  /** Where the wind goes, degrees from true north, if nobody looked that way from this pad yet. */
  look_deg: number | null
  above_limit: boolean
  open: OpenFlight[]
}

export interface ReadyFlight {
  rocket: string
  name: string
  flight: Flight
  /** Whether the pad of the flight is known; if not it stands for wherever the flyer will be. */
  has_pad: boolean
  /** As it is loaded today, or as it usually flies if nothing is. */
  loaded: Loaded
}

/** The wind of this minute; what is not said is as in the last reading of today. */
export interface TellWind {
  toward_deg?: number
  force?: number
  gusty?: boolean
  change?: 'same' | 'more' | 'less'
  meter?: WindReading
}

export interface RoundLeg {
  place: number
  stop: LatLon
  said: Sentence | null
  distance_m: number
  walk_s: number
  bearing_true_deg: number
  bearing_magnetic_deg: number
}

export interface PickUpWalk {
  waiting: { flight: string; title: string; part: string; is_friends: boolean }[]
  round: { legs: RoundLeg[]; back_m: number; any_marked: boolean }
  left_out: { title: string; error: Refused }[]
  /** Nobody should set out for these. */
  not_yet: { title: string; part: string; stay: Sentence }[]
}

/** For the ranger or the neighbour: what was not entered is null. */
export interface Shown {
  date: string
  field: string | null
  rockets: string[]
  heaviest_g: [string, number] | null
  heaviest_is_guessed: boolean
  /** Its motors and its mass with them; null if the mass of one is not known. */
  heaviest_lifts_off: [string, number] | null
  weights_unknown: string[]
  biggest_motor: string | null
  force: number | null
  wind_toward_deg: number | null
  wind_mps: number | null
  wind_limit_mps: number | null
  permission: Permission | null
  water: boolean | null
  labelled: boolean
}

export type Happened =
  | 'launched' | 'apogee' | 'deployment' | 'descent' | 'lost' | 'landed' | 'saw' | 'altimeter' | 'followed' | 'searched' | 'ruled_out' | 'found'

export interface StoryLine {
  what: Happened
  t_s: number | null
  part: string | null
  saw: SawMode | null
  distance_m: number | null
  bearing_magnetic_deg: number | null
  height_m: number | null
  note: string | null
  /** The fact that says it, by which it can be set aside. */
  word: string | null
  set_aside_by: string | null
}

export interface Story {
  flight: Flight
  lines: StoryLine[]
  word: string | null
  set_aside_by: string | null
  searches: Search[]
  /** The answer as it was shown last; null if none was. */
  shown: Answer | null
  /** Readings that it flew with and that were set aside since; it keeps them. */
  winds_aside: WindReading[]
}

/** How the search for a part stands that nobody found. */
export interface Search {
  part: string
  /** Given up if not. */
  open: boolean
  /** Why it was given up. */
  note: string | null
}

/** A phone that was pointed at something whose direction is known. */
export interface HeadingCheck {
  phone: string
  from: LatLon
  accuracy_m: number
  to: PointedAt
  /** By the clock of the wall, RFC 3339. */
  now: string
  /** As the phone showed it, from magnetic north. */
  bearing_deg: number
  /** What the pointing before this one came to, if that was not noted. */
  before_deg: number | null
}

/** A place on the map, or along the own shadow. */
export type PointedAt = LatLon | 'shadow'

export interface HeadingChecked {
  /** Null if it was not noted: so far off is no compass, and no second pointing said the same. */
  id: string | null
  /** How far it points too far right; below zero too far left. */
  too_much_deg: number
}

/** A phone and every check of its heading. */
export interface PhoneChecks {
  phone: string
  checks: (HeadingChecked & { id: string; noted_at: string | null; set_aside_by: string | null })[]
}

export interface Drift {
  flight: string
  title: string
  device: ComesDownOn
  wind_mps: number
  distance_m: number
}

export interface DriftByWind {
  finds: Drift[]
  rates: { device: ComesDownOn; finds: number; m_per_mps: number }[]
}

export interface SeasonStart {
  to_repair: [string, string][]
  motors_out: string[]
  motors_flown: FlownMotor[]
  altimeter: boolean
}

/** A line of the list of past flights. */
export interface FlightRow {
  name: string
  title: string | null
  rocket: string | null
  field: string | null
  launched_at: string | null
  found: string[]
  searched: string[]
  how: string | null
  cause: string | null
  set_aside: boolean
}

export type Shared =
  | { kind: 'target'; at: LatLon; accuracy_m: number | null }
  | { kind: 'seen'; title: string | null; launched_at: string | null; pieces: number; into: string | null }

/** What the calm screens ask of the core. */
/** What flights taught, in words. */
export interface Believed {
  flights: number
  /** Of these, read for this answer. */
  read: number
  sentences: string[]
  /** The same with their figures, for other languages and units. */
  said: Sentence[]
  /** Flights that could not be read, and why. */
  unread: string[]
}

/** How far the reading of flights is; all of it is done if none is read now. */
export interface Progress {
  done: number
  all: number
}

/** How the logbook stands. */
export interface LogbookStanding {
  /** Whether this program was told to keep one. */
  is_kept: boolean
  is_open: boolean
  /** Why it cannot be opened, or what is wrong with it although it is in use. */
  trouble: Refused | null
  flights: number
  days: number
  photos: number
  /** The newest backup; before it was made the logbook was looked over, and whole. */
  backup: { at: string | null } | null
  /** Whether another file in its place would end the trouble. */
  may_replace: boolean
  /** The newest backup that is whole, if one may be used. */
  offered: { backup: string; at: string | null; flights: number; days: number } | null
}

/** What a look at the whole logbook found. */
export interface LogbookCheck {
  said: Sentence[]
  backup_is_whole: boolean | null
}

/** All that leaves in one file, or the flights for another program. */
export type OutFormat = 'archive' | 'gpx' | 'geojson' | 'kml' | 'csv'

/** What a file brought. */
export type CameIn =
  | { kind: 'archive'; flights: number; known_flights: number; notes: number; differing: number }
  | { kind: 'flight'; flight: string; title: string | null; is_new: boolean; notes: number; not_taken: string[] }
  | { kind: 'places'; count: number }

/** Leans of the rod one way, from upright on. */
export interface Leans {
  /** The way that the rod leans, degrees from true north. */
  toward_deg: number
  /** Whether that is where the wind comes from, or a way that the flyer chose. */
  into_wind: boolean
  /** Marked that way within reach; nearest first. */
  ahead: { kind: HazardKind; name: string | null; distance_m: number }[]
  leans: { tilt_deg: number; within_m: number; in_field: number | null; hazard: HazardChance | null }[]
  /** Which of them keeps it best. */
  best: number
  /** The safety code aims no further from the vertical, degrees. */
  most_deg: number
}

export interface CalmCalls {
  logbookStanding(): Promise<LogbookStanding>
  checkLogbook(): Promise<LogbookCheck>
  backUp(): Promise<void>
  /** A backup in the place of a logbook that cannot be used, or an empty one; where that is kept. */
  restoreBackup(backup: string | null): Promise<string>
  /** Everything may leave without what lies under the maps, which may be large. */
  takeOut(format: OutFormat, withoutMaps: boolean): Promise<ArrayBuffer>
  /** A file that has come by {@link bringFile}, under that name and what it is called. */
  putIn(file: string, name: string, into: string | null): Promise<CameIn>
  sketchRocket(told: RocketTold): Promise<Sketched>
  fleet(): Promise<Fleet>
  keepRocket(id: string | null, told: RocketTold): Promise<string>
  retireRocket(rocket: string, retired: boolean): Promise<Fleet>
  noteRepair(rocket: string, repair: Repair): Promise<Fleet>
  changeStock(motor: string, change: number): Promise<Fleet>
  sites(): Promise<Site[]>
  keepSite(site: KeepSite): Promise<string>
  lookDownwind(site: string, look: Looked): Promise<Site>
  /** A look that was mistaken, with what it marked. */
  dropLook(site: string, look: Looked): Promise<Site>
  renamePad(site: string, pad: string, name: string): Promise<Site>
  /** The setting aside, which can be undone. */
  dropPad(site: string, pad: string): Promise<string>
  writeSite(id: string, withPicture: boolean): Promise<string>
  takeSite(text: string): Promise<string>
  importMap(text: string, about: LatLon): Promise<Proposals>
  /** A part of a file that is to lie under a map; how many bytes have come. */
  bringFile(file: string, at: number, base64: string): Promise<number>
  fitPicture(width_px: number, height_px: number, points: KnownPoint[]): Promise<Laid>
  keepBackground(site: string, file: string, points: KnownPoint[]): Promise<Site>
  dropBackground(site: string): Promise<Site>
  background(site: string): Promise<Background | null>
  backgroundPicture(site: string): Promise<ArrayBuffer>
  tilesOver(site: string, extent: TileExtent): Promise<TileLaid[]>
  backgroundTile(site: string, tile: Tile): Promise<ArrayBuffer>
  photos(of: PhotoOf, id: string): Promise<Photo[]>
  addPhoto(of: PhotoOf, id: string, data: string): Promise<Photo[]>
  takeWeather(text: string): Promise<WeatherTaken>
  /** Of one rocket, or of all that are loaded. */
  mayComeDown(rocket: string | null): Promise<MayComeDown | null>
  /** Of one rocket of the load, one way, degrees from true north, or against the wind; null while too little is known. */
  compareLeans(rocket: string, toward_deg: number | null): Promise<Leans | null>
  day(): Promise<Day>
  keepDay(plan: Plan): Promise<Day>
  tellWind(wind: TellWind): Promise<Day>
  readyFlights(): Promise<ReadyFlight[]>
  /** What the flyer likes on this device, as it was kept last; null if nothing was. */
  likes(): Promise<unknown>
  keepLikes(likes: object): Promise<void>
  pickUp(from: LatLon | null): Promise<PickUpWalk>
  showSomeone(): Promise<Shown>
  listLog(text: string, rocket: string): Promise<FlightRow[]>
  story(flight: string): Promise<Story>
  /** Nobody looks for this part any more, and why. */
  giveUp(flight: string, part: string, note: string | null): Promise<void>
  searchAgain(flight: string, part: string): Promise<void>
  checkHeading(check: HeadingCheck): Promise<HeadingChecked>
  headingChecks(): Promise<PhoneChecks[]>
  /** The setting aside, which can be undone. */
  setAside(fact: string): Promise<string>
  undo(fact: string): Promise<void>
  driftByWind(): Promise<DriftByWind>
  seasonStart(): Promise<SeasonStart>
  /** Reads the flights that were not read yet, or all of them anew, which takes minutes; {@link beliefsProgress} tells. */
  beliefs(rebuild: boolean): Promise<Believed>
  beliefsProgress(): Promise<Progress>
  shareTarget(id: string, part: string): Promise<string>
  shareSeen(id: string, observer: string): Promise<string>
  takeShared(text: string, into: string | null): Promise<Shared>
}

const place = ({ lat, lon }: LatLon): LatLon => ({ lat, lon })

/** These calls, the same whichever way leads to the core. */
export function calmCalls(ask: Ask, bytes: AskBytes): CalmCalls {
  const id = async (call: string, body: object) => (await ask<{ id: string }>(call, body)).id
  const text = async (call: string, body: object) => (await ask<{ text: string }>(call, body)).text
  const done = async (call: string, body: object) => {
    await ask<unknown>(call, body)
  }
  return {
    sketchRocket: (told) => ask('sketch_rocket', { told }),
    fleet: () => ask('fleet', {}),
    keepRocket: (known, told) => id('keep_rocket', { id: known, told }),
    retireRocket: (rocket, retired) => ask('retire_rocket', { rocket, retired }),
    noteRepair: (rocket, repair) => ask('note_repair', { rocket, repair }),
    changeStock: (motor, change) => ask('change_stock', { motor, change }),
    sites: () => ask('sites', {}),
    keepSite: (site) => id('keep_site', site),
    lookDownwind: (site, look) => ask('look_downwind', { site, look: { ...look, from: place(look.from) } }),
    dropLook: (site, look) => ask('drop_look', { site, look: { ...look, from: place(look.from) } }),
    renamePad: (site, pad, name) => ask('rename_pad', { site, pad, name }),
    dropPad: (site, pad) => ask('drop_pad', { site, pad }),
    writeSite: (site, withPicture) => ask('write_site', { id: site, with_picture: withPicture }),
    takeSite: (it) => id('take_site', { text: it }),
    importMap: (it, about) => ask('import_map', { text: it, about: place(about) }),
    bringFile: async (file, at, base64) => (await ask<{ bytes: number }>('bring_file', { file, at, base64 })).bytes,
    fitPicture: (width_px, height_px, points) => ask('fit_picture', { width_px, height_px, points }),
    keepBackground: (site, file, points) => ask('keep_background', { site, file, points }),
    dropBackground: (site) => ask('drop_background', { id: site }),
    background: (site) => ask('background', { id: site }),
    backgroundPicture: (site) => bytes('background_picture', { id: site }),
    tilesOver: (site, extent) => ask('tiles_over', { id: site, extent }),
    backgroundTile: (site, tile) => bytes('background_tile', { id: site, tile }),
    photos: (of, it) => ask('photos', { of, id: it }),
    addPhoto: (of, it, data) => ask('keep_photo', { of, id: it, data }),
    takeWeather: (it) => ask('take_weather', { text: it }),
    mayComeDown: (rocket) => ask('may_come_down', { rocket }),
    compareLeans: (rocket, toward_deg) => ask('compare_leans', { rocket, toward_deg }),
    day: () => ask('day', {}),
    keepDay: (plan) => ask('keep_day', { plan }),
    tellWind: (wind) => ask('tell_wind', wind),
    readyFlights: () => ask('ready_flights', {}),
    likes: () => ask('likes', {}),
    keepLikes: (likes) => done('keep_likes', { likes }),
    pickUp: (from) => ask('pick_up', { from: from && place(from) }),
    showSomeone: () => ask('show_someone', {}),
    listLog: (it, rocket) => ask('list_log', { text: it || null, rocket: rocket || null }),
    story: (flight) => ask('story', { flight }),
    giveUp: (flight, part, note) => done('close_flight', { id: flight, given_up: [part], note }),
    searchAgain: (flight, part) => done('search_again', { id: flight, part }),
    checkHeading: (check) => ask('check_heading', { ...check, from: place(check.from), to: check.to === 'shadow' ? check.to : place(check.to) }),
    headingChecks: () => ask('heading_checks', {}),
    setAside: (fact) => ask('set_aside', { id: fact }),
    undo: (fact) => done('undo', { id: fact }),
    driftByWind: () => ask('drift_by_wind', {}),
    seasonStart: () => ask('season_start', {}),
    beliefs: (rebuild) => ask('beliefs', { rebuild }),
    beliefsProgress: () => ask('beliefs_progress', {}),
    logbookStanding: () => ask('logbook_standing', {}),
    checkLogbook: () => ask('check_logbook', {}),
    backUp: () => done('back_up', {}),
    restoreBackup: async (backup) => (await ask<{ aside: string }>('restore_backup', { backup })).aside,
    takeOut: (format, without_maps) => bytes('take_out', { format, without_maps }),
    putIn: (file, name, into) => ask('put_in', { file, name, into }),
    shareTarget: (flight, part) => text('share_target', { id: flight, part }),
    shareSeen: (flight, observer) => text('share_seen', { id: flight, observer }),
    takeShared: (it, into) => ask('take_shared', { text: it, into }),
  }
}
