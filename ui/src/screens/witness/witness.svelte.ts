import { Refusal, type Backend } from '../../lib/backend'
import type { Answer, Evidence, Flight, LatLon, Moment, TimedBy } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { watchSpot } from '../../lib/device/place'
import type { Fix } from '../../lib/device/position'
import { typed } from '../../lib/units'
import { say } from '../../lib/words'
import { hasWay, markedAt, NO_LOOK, sightingOf, type Look } from '../../parts/aim/look'

/** What a tap on the map means. */
export type Picking = 'stood' | 'mark'

/** Who saw it from where: somebody beside me now; where they stood then; I, where I stood then. */
export type Where = 'here' | 'map' | 'then'

/** How the seconds were told: counted, or read off a film. */
export type SecondsBy = Extract<TimedBy, 'counted' | 'video'>

/** What somebody else saw: along their arm, or from where they stood. Or oneself, with a mark on the skyline. */
export class Witness {
  where = $state<Where>('here')
  stood = $state.raw<LatLon | null>(null)
  look = $state.raw<Look>(NO_LOOK)
  moment = $state<Extract<Moment, 'lost' | 'landed'>>('lost')
  picking = $state<Picking | null>(null)
  /** Seconds after lift-off as they were written, and how they were told. */
  seconds = $state('')
  secondsBy = $state<SecondsBy>('counted')
  here = $state.raw<Fix | null>(null)
  noting = $state(false)
  trouble = $state<string | null>(null)

  flight = $state.raw() as Flight
  /** Whether something that was told is used no more, or again. */
  changed = $state(false)
  /** What the flyer showed, with its place among all that was told. */
  readonly own: { index: number; piece: Extract<Evidence, { kind: 'sighting' | 'track' }> }[] = $derived(
    this.flight.evidence.flatMap((piece, index) => ((piece.kind === 'sighting' || piece.kind === 'track') && !piece.observer ? [{ index, piece }] : [])),
  )
  /** Where the flyer stood when it was last seen, and when that was. */
  readonly mine: { from: LatLon; t_s: number | null; moment: Moment } | null = $derived.by(() => {
    const last = this.own.flatMap(({ piece }) => (piece.kind === 'sighting' && !piece.set_aside ? [piece] : [])).at(-1)
    return last ? { from: last.from ?? this.flight.pad, t_s: last.t_s ?? null, moment: last.moment } : null
  })
  readonly #backend: Backend
  readonly #of: Device
  readonly #id: string

  constructor(backend: Backend, device: Device, id: string, flight: Flight) {
    this.#backend = backend
    this.#of = device
    this.#id = id
    this.flight = flight
  }

  /** Begins to look where the flyer stands. Returns what ends it. */
  begin(): () => void {
    return watchSpot(this.#of.receiver, (spot) => (this.here = spot))
  }

  /** Where they stood; null while nobody knows. */
  get from(): LatLon | null {
    const { where, here, stood, mine } = this
    if (where === 'then') return mine?.from ?? null
    return where === 'map' ? stood : here && { lat: here.lat, lon: here.lon }
  }

  standAt(where: Where): void {
    this.where = where
    // Who pointed from here did not point from there.
    this.look = NO_LOOK
    this.picking = where === 'map' && !this.stood ? 'stood' : null
  }

  pick(at: LatLon): void {
    if (this.picking === 'stood') this.stood = at
    if (this.picking === 'mark') this.look = markedAt(this.look, at)
    this.picking = null
  }

  /** A direction that was wrong is kept and not used, or used again. */
  async leaveOut(index: number, set_aside: boolean): Promise<void> {
    this.trouble = null
    try {
      const flight = await this.#backend.showFlight(this.#id)
      const evidence = flight.evidence.map((piece, at) => (at === index ? { ...piece, set_aside } : piece))
      await this.#backend.tellFlight({ ...flight, id: this.#id, evidence })
      this.flight = await this.#backend.showFlight(this.#id)
      this.changed = true
    } catch (thrown) {
      this.trouble = Refusal.from(thrown).message
    }
  }

  /** Notes it. The flight and its answer, or null with the trouble said. */
  async note(): Promise<{ flight: Flight; answer: Answer } | null> {
    const { from } = this
    const told_s = typed(this.seconds)
    if (this.seconds.trim() !== '' && (told_s === null || told_s < 0)) {
      this.trouble = say('witness.seconds_wrong')
      return null
    }
    const isMine = this.where === 'then'
    // What marks the line marks it for the moment when it was last seen.
    const t_s = told_s ?? (isMine && this.mine?.moment === this.moment ? this.mine.t_s : null)
    const seen = sightingOf(this.look, this.moment, from, t_s)
    if (!hasWay(this.look) && told_s === null && this.changed) return this.#answered(() => this.#backend.locateFlight(this.#id, this.here))
    if (!seen || !from || (!hasWay(this.look) && told_s === null)) {
      this.trouble = say(from ? 'witness.way_needed' : 'position.timeout')
      return null
    }
    const said = { ...seen, ...(!isMine && { observer: say('witness.somebody') }), ...(told_s !== null && { timed_by: this.secondsBy }) } as typeof seen
    return this.#answered(() => this.#backend.addEvidence(this.#id, [said], this.here))
  }

  async #answered(ask: () => Promise<Answer>): Promise<{ flight: Flight; answer: Answer } | null> {
    this.trouble = null
    this.noting = true
    try {
      const answer = await ask()
      return { flight: await this.#backend.showFlight(this.#id), answer }
    } catch (thrown) {
      this.trouble = Refusal.from(thrown).message
      return null
    } finally {
      this.noting = false
    }
  }
}
