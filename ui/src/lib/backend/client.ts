import type { Answer, Flight, LatLon, Mode } from './generated'

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
  error: string | null
}

/** What the screens ask of the core. Every call rejects with a {@link Refusal} and nothing else. */
export interface Backend {
  listFlights(): Promise<FlightSummary[]>
  showFlight(id: string): Promise<Flight>
  locateFlight(id: string, from: LatLon | null): Promise<Answer>
  landingDensity(id: string, part: string, mode: Mode | null): Promise<ArrayBuffer>
}

/** An error of the core or of the way to it. */
export class Refusal extends Error {
  override name = 'Refusal'
  readonly code: string

  constructor(code: string, message: string) {
    super(message)
    this.code = code
  }

  /** Whatever was thrown, as a refusal: the core's `{code, message}`, an error, or bare words. */
  static from(thrown: unknown, code = 'unexpected'): Refusal {
    if (thrown instanceof Refusal) return thrown
    if (typeof thrown === 'object' && thrown !== null && 'message' in thrown && typeof thrown.message === 'string') {
      const its = 'code' in thrown && typeof thrown.code === 'string' ? thrown.code : code
      return new Refusal(its, thrown.message)
    }
    return new Refusal(code, String(thrown))
  }
}

/** Arguments of the calls by their names on the wire; what is not given is left out. */
export const args = {
  locate: (id: string, from: LatLon | null) => (from ? { id, from: { lat: from.lat, lon: from.lon } } : { id }),
  density: (id: string, part: string, mode: Mode | null) => (mode ? { id, part, mode } : { id, part }),
}
