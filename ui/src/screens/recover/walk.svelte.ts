import { Refusal, type Backend, type Light, type WalkStep } from '../../lib/backend'
import type { Answer, Flight, LatLon, Mode, ModeAnswer, PartAnswer, Sentence } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { CompassCheck, turn_deg, type CompassState } from '../../lib/device/compass'
import { apart_m, Steady } from '../../lib/device/place'
import type { Fix } from '../../lib/device/position'
import { say } from '../../lib/words'
import type { BaseKeep } from './base'

/** From here course over ground is better than the compass, m/s. */
const WALKING_MPS = 0.7
/** A new step is asked for after so many metres, or seconds. */
const STEP_M = 3
const STEP_S = 4
/** Nobody is nearer to a place than this, whatever the receiver says, m. Judgement. */
const LEAST_ACCURACY_M = 6
/** Nearer than this to a place one is there. */
const nearest_m = (fix: Fix | null) => Math.max(LEAST_ACCURACY_M, fix?.accuracy_m ?? 0)
/** What was walked within this of the aim is ground looked at, m. */
const LOOKED_WITHIN_M = 60

/** A place nearer than this to one that was looked over is the same place, m: as far as a good look reaches. Judgement. */
const SEARCHED_M = 15

/** Whether the place of a part was looked over in vain. */
export const wasSearched = (flight: Flight, { part, aim, approach }: Goal): boolean =>
  flight.evidence.some((it) => {
    const [, lat, lon] = (it.kind === 'sweep' && !it.set_aside && it.part === part && it.path.at(-1)) || []
    return lat !== undefined && lon !== undefined && [aim, approach].some((it) => apart_m({ lat, lon }, it) <= SEARCHED_M)
  })

/** Farther off the line than this it buzzes, and again after so many seconds. */
const OFF_DEG = 15
const REMIND_S = 4
/** From here on the heat is minded, degrees C; a drink after so many minutes. Common practice, no source. */
export const HOT_C = 30
const DRINK_S = 20 * 60
/** Below this the battery is spared. */
const LOW = 0.15
/** The light is asked for again after so many seconds. */
const LIGHT_S = 120

/** What a walk leads to: a part as an answer has it, or a place that another phone named. */
export type Goal = Pick<PartAnswer, 'part' | 'aim' | 'approach' | 'regions'> & Partial<Pick<PartAnswer, 'rests'>> & {
  /** How it came down, if the walk leads to where it lies then. */
  mode?: Mode
}

/** Where a part is looked for: where it lies if it came down in the way that is chosen, else where it lies most likely. */
export const goalOf = (part: PartAnswer, way: ModeAnswer | null): Goal =>
  way ? { ...part, mode: way.mode, aim: way.aim, regions: way.regions, approach: way.approach ?? { ...way.aim, caution: null, said: null } } : part

/** The way to one part, step by step. */
export class Walk {
  fix = $state.raw<Fix | null>(null)
  step = $state.raw<WalkStep | null>(null)
  /** Which way the screen is read, from magnetic north; null without a compass. */
  shown_deg = $state<number | null>(null)
  compass = $state<CompassState>('good')
  /** What the way walked says must be added to what the compass shows, degrees. */
  correction_deg = $state(0)
  trouble = $state<string | null>(null)
  noted = $state(false)
  /** That it is not here is being noted and worked out. */
  isNoting = $state(false)
  /** Where the way leads: to the part, or back. */
  goal = $state<'part' | 'base'>('part')
  /** The part that is walked to, as the answer has it. */
  part = $state.raw() as Goal
  /** The car, the tent; the pad until somebody marks it. */
  base = $state.raw<LatLon | null>(null)
  /** Straight back from here, m, as the core measures it. */
  back_m = $state<number | null>(null)
  light = $state.raw<Light | null>(null)
  /** The phone is in the pocket: it speaks by sound and buzz. */
  pocketed = $state(false)
  /** A drink is due. */
  thirsty = $state(false)
  temperature_c = $state<number | null>(null)
  /** Somebody said that it is hot. */
  saidHot = $state(false)
  /** How full the battery is, if it is nearly empty. */
  low = $state<number | null>(null)
  /** The phone itself is too hot. */
  hot = $state(false)

  /** How far to the right of the line the last steps went, degrees; null while standing. */
  readonly off_deg: number | null = $derived.by(() => {
    const { step, fix } = this
    return step && fix && this.isWalking ? turn_deg(step.bearing_true_deg, fix.course_deg ?? 0) : null
  })
  /** Which way the walker looks, from true north; null while nothing tells. */
  readonly heading_deg: number | null = $derived.by(() => {
    const { step, fix, shown_deg, compass } = this
    if (this.isWalking) return fix?.course_deg ?? null
    return shown_deg === null || !step || (compass !== 'good' && compass !== 'corrected') ? null : shown_deg + step.declination_deg + this.correction_deg
  })
  readonly isHot: boolean = $derived.by(() => this.saidHot || (this.temperature_c ?? 0) >= HOT_C)

  /** Whether the way has been gone to its end, and nothing leads on from there. */
  readonly isSearched: boolean = $derived.by(() => this.noted && this.goal === 'part')

  /** Where the arrow points, clockwise from the top of the screen; null while nothing tells, or nothing leads on. */
  readonly arrow_deg: number | null = $derived.by(() => {
    const { step, heading_deg } = this
    return !step || this.isSearched || heading_deg === null ? null : turn_deg(heading_deg, step.bearing_true_deg)
  })
  /** Inside the accuracy of the receiver there is no way left to point. */
  readonly isThere: boolean = $derived.by(() => {
    const { step, fix } = this
    return step !== null && fix !== null && step.distance_m <= nearest_m(fix)
  })

  readonly #backend: Backend
  readonly #of: Device
  readonly #id: string | null
  readonly #keep: BaseKeep
  readonly #pad: LatLon
  readonly #path: Fix[] = []
  #asked: Fix | null = null
  #asking = false
  readonly #check = new CompassCheck()
  #told = false
  #reached = false
  #reminded_ms = -Infinity
  #drank_ms = 0
  #lit_ms = -Infinity

  constructor(backend: Backend, device: Device, id: string | null, part: Goal, pad: LatLon, keep: BaseKeep) {
    this.#backend = backend
    this.#of = device
    this.#id = id
    this.part = part
    this.#pad = pad
    this.#keep = keep
    this.base = keep.read()
    this.saidHot = keep.hot()
  }

  /** The answer is worked out, or worked out anew: the same part may lie elsewhere. */
  leadTo(part: Goal): void {
    if (apart_m(part.aim, this.part.aim) > SEARCHED_M) this.noted = false
    this.part = part
    if (this.goal === 'part') this.#anew()
  }

  /** Of which flight; null for a place that another phone named. */
  get of(): string | null {
    return this.#id
  }

  get pad(): LatLon {
    return this.#pad
  }

  get clock(): Device['clock'] {
    return this.#of.clock
  }

  /** What the way leads to. */
  get to(): LatLon {
    return this.goal === 'part' ? this.part.aim : (this.base ?? this.#pad)
  }

  /** Where the way ends as seen from here. */
  get stand(): LatLon {
    return this.goal === 'part' ? (this.step?.approach ?? this.part.approach) : this.to
  }

  /** Why the way ends short of the place; null where it leads all the way, as far as the receiver can tell. */
  get stopsFor(): Sentence | null {
    const { step, fix, goal } = this
    return goal === 'part' && step && step.short_m > nearest_m(fix) ? (step.approach.said ?? null) : null
  }

  get isWalking(): boolean {
    const { fix } = this
    return fix !== null && (fix.speed_mps ?? 0) >= WALKING_MPS && fix.course_deg !== null && fix.course_deg !== undefined
  }

  /** Begins to watch. Returns what ends it. */
  begin(): () => void {
    const steady = new Steady()
    void this.#of.wakeLock.hold()
    this.#drank_ms = this.#of.clock.now_ms()
    void this.#readAir()
    const ends = [
      this.#of.battery.watch(({ share, charging }) => {
        this.low = share < LOW && !charging ? share : null
      }),
      this.#of.heat.watch((isHot) => {
        this.hot = isHot
      }),
      this.#of.receiver.watch(
        (fix) => {
          const taken = steady.takes(fix)
          if (!taken) return
          this.fix = taken
          this.#path.push(taken)
          this.#mindLine()
          this.#mindHeat()
          void this.#readLight(taken)
          if (this.shown_deg !== null && this.step) {
            this.#check.walks(taken.course_deg, taken.speed_mps, this.shown_deg + this.step.declination_deg)
            this.compass = this.#check.state
            this.correction_deg = this.#check.correction_deg
          }
          void this.#ask(taken)
        },
        (none) => {
          if (!this.fix) this.trouble = say(`position.${none.why}`)
        },
      ),
      this.#of.compass.watch('ahead', (aim) => {
        this.#check.sees(aim)
        this.compass = this.#check.state
        this.shown_deg = aim.bearing_deg
      }),
    ]
    return () => {
      for (const end of ends) end()
      this.#of.wakeLock.release()
    }
  }

  /** Here is the car, or whatever the way back leads to. */
  markBase(): void {
    const here = this.#place()
    if (!here) return
    this.base = here
    this.#keep.write(here)
    this.#of.vibration.buzz('taken')
    this.#anew()
  }

  /** Back, or on to the part again. */
  turnRound(): void {
    this.goal = this.goal === 'part' ? 'base' : 'part'
    this.#reached = false
    this.#anew()
  }

  /** Into the pocket and out again. */
  pocket(isIn: boolean): void {
    this.pocketed = isIn
    this.#of.tone.ready()
    this.#of.vibration.buzz('taken')
  }

  /** Hot, or not: from now on water is thought of. */
  sayHot(isHot: boolean): void {
    this.saidHot = isHot
    this.#keep.sayHot(isHot)
    this.drank()
  }

  drank(): void {
    this.thirsty = false
    this.#drank_ms = this.#of.clock.now_ms()
  }

  #anew(): void {
    this.#asked = null
    this.step = null
    if (this.fix) void this.#ask(this.fix)
  }

  #mindLine(): void {
    const now_ms = this.#of.clock.now_ms()
    const off = this.pocketed && !this.isThere && !this.isSearched && this.off_deg !== null && Math.abs(this.off_deg) > OFF_DEG
    if (!off || now_ms - this.#reminded_ms < REMIND_S * 1000) return
    this.#reminded_ms = now_ms
    this.#of.vibration.buzz('off')
    this.#of.tone.sound('off')
  }

  #mindHeat(): void {
    if (!this.isHot || this.thirsty || this.#of.clock.now_ms() - this.#drank_ms < DRINK_S * 1000) return
    this.thirsty = true
    this.#of.vibration.buzz('drink')
    this.#of.tone.sound('drink')
  }

  async #readAir(): Promise<void> {
    if (this.#id === null) return
    try {
      const { air } = await this.#backend.showFlight(this.#id)
      const figure = air?.temperature_c ?? null
      this.temperature_c = typeof figure === 'object' ? (figure?.value ?? null) : figure
    } catch {
      // Without it nobody is reminded of the heat.
    }
  }

  async #readLight(at: LatLon): Promise<void> {
    const now_ms = this.#of.clock.now_ms()
    if (now_ms - this.#lit_ms < LIGHT_S * 1000) return
    this.#lit_ms = now_ms
    try {
      this.light = await this.#backend.lightLeft(at, this.#of.clock.wall())
    } catch {
      this.light = null
    }
  }

  async #ask(fix: Fix): Promise<void> {
    const last = this.#asked
    const fresh = !last || apart_m(last, fix) >= STEP_M || ((fix.at_ms ?? 0) - (last.at_ms ?? 0)) / 1000 >= STEP_S
    if (this.#asking || !fresh) return
    this.#asking = true
    this.#asked = fix
    try {
      const to = this.to
      const step = await this.#backend.walkTo(this.#id, fix, fix.accuracy_m, to, this.base ?? this.#pad, this.goal === 'part')
      this.back_m = step.home_m
      if (to !== this.to) return // turned round meanwhile
      this.step = step
      this.trouble = null
      const stop = this.step.stop.length > 0
      if (stop && !this.#told) {
        this.#of.tone.sound('stop')
        this.#of.vibration.buzz('stop')
      }
      this.#told = stop
      if (this.isThere && !this.#reached && !stop && !this.isSearched) {
        const signal = this.stopsFor ? 'stop' : 'there'
        this.#of.tone.sound(signal)
        this.#of.vibration.buzz(signal)
      }
      this.#reached = this.isThere
    } catch (thrown) {
      this.trouble = Refusal.from(thrown).message
    } finally {
      this.#asking = false
      // Turned round while the core was asked.
      if (this.#asked === null && this.fix) void this.#ask(this.fix)
    }
  }

  /** Looked around, and it is not here. The answer that knows it; null with the trouble said. */
  async notHere(): Promise<Answer | null> {
    const near = this.#path.filter((fix) => apart_m(fix, this.part.aim) <= LOOKED_WITHIN_M)
    const fixes = near.length > 0 ? near : this.#path.slice(-1)
    const points = fixes.map(({ lat, lon, accuracy_m }): [number | null, number, number, number | null] => [null, lat, lon, Math.min(1000, Math.max(1, accuracy_m))])
    const [first] = points
    if (!first || this.#id === null || this.isNoting) return null
    this.isNoting = true
    try {
      const path = points.length > 1 ? points : [first, first]
      const answer = await this.#backend.addEvidence(this.#id, [{ kind: 'sweep', part: this.part.part, path, set_aside: false }], this.#place())
      this.noted = true
      return answer
    } catch (thrown) {
      this.trouble = Refusal.from(thrown).message
      return null
    } finally {
      this.isNoting = false
    }
  }

  #place(): LatLon | null {
    return this.fix && { lat: this.fix.lat, lon: this.fix.lon }
  }
}
