import type { CalmCalls } from './calm'
import type { Fix } from '../device/position'
import { refusalInWords } from '../words/sentence'
import type { Answer, Approach, Evidence, Flight, HazardKind, LatLon, Mode, North, SawMode, Sentence } from './generated'

/** One line of the list of flights. */
export interface FlightSummary {
  id: string
  title: string
  /** RFC 3339, as the clock on the field showed it; null if nobody noted it. */
  launched_at: string | null
  /** Empty if it has no name. */
  rocket: string
  /** How far the search has come; null if the file cannot be read. */
  standing: 'lost' | 'partly_found' | 'found' | null
  /** Names of the parts found. */
  found: string[]
  /** Why the file cannot be read. */
  error: Refused | null
}

/** What may be missing of a rocket whose parts were never declared. */
export type Piece = 'nose' | 'fin_can' | 'chute' | 'motor_case' | 'altimeter'

/** What was picked up, where, and what is still missing. */
export interface FindNote {
  id: string
  /** Part or stage; unless `only_part`, all that belongs to its stage. */
  part: string
  at: LatLon
  accuracy_m: number | null
  condition: string | null
  /** Whether it wants mending in that state. */
  to_mend?: boolean
  only_part: boolean
  missing: Piece[]
  from: LatLon | null
}

/** Samples of a phone held on target. */
export interface TrackPiece {
  id: string
  /** Which track of the flight, from 0. */
  track: number
  /** Seconds after first motion, bearing and elevation in degrees; times rising. */
  samples: [number, number, number][]
  north: North
  from: LatLon | null
}

/** When the recovery device should be open, seconds after first motion. */
export interface Opening {
  expected_s: number
  /** By now 19 of 20 have opened. */
  latest_s: number
  /** When 19 of 20 that never open are down. */
  down_unopened_s: number
}

/** How it comes down, as far as its tracks tell until now. */
export interface Fall {
  /** Chance that it falls with nothing open. */
  p_unopened: number
  /** Whether to call out to look up. */
  heads_up: boolean
}

/** A step of the way, as the core measures it. */
export interface WalkStep {
  /** Where the way ends as seen from here, and why there if that is short of the place walked to. */
  approach: Approach
  /** From there on to the place, m; zero where the way leads all the way. */
  short_m: number
  /** To the end of the way. */
  distance_m: number
  walk_s: number
  bearing_true_deg: number
  bearing_magnetic_deg: number
  declination_deg: number
  /** The way lies within so many degrees to either side of what a phone shows, 9 times of 10. */
  doubt_deg: number
  /** Hazards so near that the way ends here. */
  stop: { kind: HazardKind; name: string | null; distance_m: number }[]
  any_marked: boolean
  /** Straight back home, if that was asked. */
  home_m: number | null
}

/** The way to a place that another phone named, over the ground that is known there. */
export interface Led {
  /** Ground and wind; no flight of the logbook. */
  flight: Flight
  approach: Approach
  /** The usual ones, most urgent first. */
  cautions: Sentence[]
  declination_deg: number
}

/** What is left of the daylight, on a flat horizon. */
export interface Light {
  sun_is_up: boolean
  is_dark: boolean
  /** Null if there is none within a day. */
  sunset_in_s: number | null
  dark_in_s: number | null
}

/** A height read off an altimeter, held against what was expected. */
export interface HeightCheck {
  low_m: number
  high_m: number
  slip: 'tenfold' | 'unit' | 'unlike' | null
  /** What was probably meant. */
  meant_m: number | null
}

/** What the screens ask of the core. Every call rejects with a {@link Refusal} and nothing else. */
export interface Backend extends CalmCalls {
  listFlights(): Promise<FlightSummary[]>
  showFlight(id: string): Promise<Flight>
  locateFlight(id: string, from: LatLon | null): Promise<Answer>
  landingDensity(id: string, part: string, mode: Mode | null): Promise<ArrayBuffer>
  /** Keeps a flight told in the hand and computes nothing; its identifier. */
  tellFlight(flight: Flight): Promise<string>
  /** It never left the pad: all that was told of it is taken back. */
  takeBackFlight(id: string): Promise<void>
  /** Keeps a flight told in the hand and answers; the answer's `flight` is its identifier. */
  answerFlight(flight: Flight, from: LatLon | null): Promise<Answer>
  addEvidence(id: string, evidence: Evidence[], from: LatLon | null): Promise<Answer>
  appendTrack(piece: TrackPiece): Promise<void>
  /** What the samples held so far say of the fall; one flight at a time. */
  watchFall(id: string): Promise<Fall>
  /** At once what the cloud of {@link watchFall} says; null for a flight that it does not watch. Provisional. */
  roughAnswer(id: string, from: LatLon | null): Promise<Answer | null>
  /** Keeps what was picked up and computes nothing; the flight as it is known then. */
  noteFind(find: FindNote): Promise<Flight>
  /** Notes in the logbook how a flight ended; without one, nothing. */
  closeFlight(id: string, how: SawMode): Promise<void>
  expectedOpening(flight: Flight): Promise<Opening>
  /** `id` is null for a place that another phone named. */
  walkTo(id: string | null, from: LatLon, accuracy_m: number, to: LatLon, home?: LatLon, stops_short?: boolean): Promise<WalkStep>
  /** The way to a place that another phone named. */
  leadTo(at: LatLon, from: LatLon): Promise<Led>
  /** Where this computer is, by its gpsd; null if that knows no position yet. Refused where there is none. */
  position(): Promise<Fix | null>
  /** How long there is light; `now` as the clock on the field shows it. */
  lightLeft(at: LatLon, now: string): Promise<Light>
  checkAltimeter(id: string, apogee_m: number): Promise<HeightCheck>
  /** Notes a picture of a find in the logbook: an address that holds the data. Refused without a logbook. */
  keepPhoto(rocket: string, flight: string, part: string, data: string): Promise<void>
}

/** A refusal as the core sends it: what a terminal says, and the field and sentence for a screen. */
export interface Refused {
  code: string
  message: string
  field?: string
  said?: Sentence
}

/** An error of the core or of the way to it, in the flyer's language. */
export class Refusal extends Error {
  override name = 'Refusal'
  readonly code: string
  /** Where in what was sent, as the core names it. */
  readonly field: string | null

  constructor(code: string, message: string, field: string | null = null) {
    super(message)
    this.code = code
    this.field = field
  }

  /** Whatever was thrown, as a refusal: the core's `{code, message}`, an error, or bare words. */
  static from(thrown: unknown, code = 'unexpected'): Refusal {
    if (thrown instanceof Refusal) return thrown
    if (typeof thrown === 'object' && thrown !== null && 'message' in thrown && typeof thrown.message === 'string') {
      const its: { message: string; code?: unknown; field?: string; said?: Sentence } = { ...thrown, message: thrown.message }
      return new Refusal(typeof its.code === 'string' ? its.code : code, refusalInWords(its.message, its.said, its.field), its.field ?? null)
    }
    return new Refusal(code, refusalInWords(String(thrown), undefined, undefined))
  }
}

/** Arguments of the calls by their names on the wire; what is not given is left out. */
export const args = {
  locate: (id: string, from: LatLon | null) => (from ? { id, from: { lat: from.lat, lon: from.lon } } : { id }),
  density: (id: string, part: string, mode: Mode | null) => (mode ? { id, part, mode } : { id, part }),
}
