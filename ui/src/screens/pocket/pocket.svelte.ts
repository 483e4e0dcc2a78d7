import type { Backend } from '../../lib/backend'
import type { Field, Flight, LatLon, Pad, SawMode, Sure } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { apart_m, watchSpot } from '../../lib/device/place'
import type { Fix } from '../../lib/device/position'
import { say } from '../../lib/words'
import { stageNames } from '../../parts/rocket/size'
import { Attempts } from '../../parts/shared/attempts.svelte'
import { atHand, type Ready } from '../fly/rockets'
import { AGO_S, type Ago } from '../lost/lost.svelte'

/** What is asked, in this order. */
export const STEPS = ['rocket', 'ago', 'did', 'where'] as const
/** One of them. */
export type Step = (typeof STEPS)[number]

/** Where it lay: where the flyer stands, somewhere on the map, or nobody has found it. */
export type Lay = 'here' | 'missing' | LatLon

/** Around a pad that is not known, and around a place tapped on a map, m. Judgement. */
const NEAR_M = 100
const TAPPED_M = 15
const OTHER_FIELD_M = 3000

/** A flight with the phone in the pocket, told afterwards. */
export class Pocket extends Attempts {
  open = $state<Step | null>('rocket')
  rockets = $state.raw<Ready[]>([])
  /** Null for another than those, and while nothing was chosen. */
  rocket = $state.raw<Ready | null>(null)
  done = $state.raw<readonly Step[]>([])
  ago = $state<Ago | null>(null)
  did = $state<SawMode | null>(null)
  sure = $state<Sure>('think')
  here = $state.raw<Fix | null>(null)
  saving = $state(false)

  readonly #backend: Backend
  readonly #of: Device
  #launchedAt: string | null = null
  #id: string | null = null

  constructor(backend: Backend, device: Device) {
    super()
    this.#backend = backend
    this.#of = device
  }

  /** Begins to look where the flyer stands, and which rockets there are. Returns what ends it. */
  begin(): () => void {
    void this.#readRockets()
    return watchSpot(this.#of.receiver, (spot) => (this.here = spot))
  }

  async #readRockets(): Promise<void> {
    const { all } = await atHand(this.#backend)
    this.rockets = all
    // There is nothing to choose from.
    const [only] = all
    if (all.length === 1 && only && !this.done.includes('rocket')) this.choose(only)
    else if (all.length === 0) this.#finish('rocket')
  }

  /** Which rocket; null for another. */
  choose(rocket: Ready | null): void {
    this.rocket = rocket
    this.#finish('rocket')
  }

  takeAgo(ago: Ago): void {
    this.ago = ago
    this.#launchedAt = this.#of.clock.wall(AGO_S[ago])
    this.#finish('ago')
  }

  takeDid(did: SawMode): void {
    this.did = did
    this.#finish('did')
  }

  #finish(step: Step): void {
    if (!this.done.includes(step)) this.done = [...this.done, step]
    this.open = STEPS.find((it) => !this.done.includes(it)) ?? null
  }

  /** Pad and field of the rocket, if the flyer is still there. */
  get #ground(): Flight | null {
    const { rocket, here } = this
    return rocket?.hasPad && !(here && apart_m(rocket.flight.pad, here) > OTHER_FIELD_M) ? rocket.flight : null
  }

  /** Null while nobody knows. */
  get pad(): Pad | null {
    const known = this.#ground?.pad
    if (known) return known
    const { here } = this
    return here && { lat: here.lat, lon: here.lon, accuracy_m: Math.min(1000, Math.max(NEAR_M, here.accuracy_m)) }
  }

  get field(): Field | null {
    return this.#ground?.field ?? null
  }

  /** Keeps the flight, and where it lay. Its identifier; null with the trouble said. */
  async keep(lay: Lay): Promise<string | null> {
    const { pad, here, did, saving } = this
    if (saving) return null
    this.saving = true
    let kept: string | null = null
    await this.attempt(async () => {
      const at = lay === 'here' ? here : lay === 'missing' ? null : lay
      if (!pad || (lay === 'here' && !at)) throw new Error(say('position.timeout'))
      const flight = this.#flight(pad)
      this.#id = await this.#backend.tellFlight({ ...flight, id: this.#id })
      if (did) await this.#backend.closeFlight(this.#id, did)
      if (at) {
        const accuracy_m = lay === 'here' ? Math.min(1000, Math.max(1, here?.accuracy_m ?? TAPPED_M)) : TAPPED_M
        const find = { id: this.#id, at: { lat: at.lat, lon: at.lon }, accuracy_m, condition: null, only_part: false, missing: [], from: null }
        for (const part of stageNames(flight.rocket)) await this.#backend.noteFind({ ...find, part })
      }
      kept = this.#id
    })
    this.saving = false
    return kept
  }

  #flight(pad: Pad): Flight {
    const { rocket, did, sure } = this
    const at = this.#launchedAt
    const ground = this.#ground
    return {
      format: 'windfall-flight/1',
      title: say('fly.flight_title', { rocket: rocket?.name ?? say('fly.other'), time: (at ?? this.#of.clock.wall()).slice(11, 16) }),
      pad,
      field: ground?.field ?? null,
      air: ground?.air ?? null,
      wind: ground?.wind ?? [],
      rocket: rocket?.flight.rocket ?? { stages: [{ splits_into: [] }] },
      launch: { at, timed_by: 'recalled' },
      evidence: did ? [{ kind: 'saw', mode: did, sure, set_aside: false }] : [],
    }
  }
}
