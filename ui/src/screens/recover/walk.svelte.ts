import { Refusal, type Backend, type WalkStep } from '../../lib/backend'
import type { Answer, LatLon, PartAnswer } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { CompassCheck, turn_deg, type CompassState } from '../../lib/device/compass'
import { apart_m, Steady } from '../../lib/device/place'
import type { Fix } from '../../lib/device/position'
import { say } from '../../lib/words'

/** From here course over ground is better than the compass, m/s. */
const WALKING_MPS = 0.7
/** A new step is asked for after so many metres, or seconds. */
const STEP_M = 3
const STEP_S = 4
/** Nobody is nearer to a place than this, whatever the receiver says, m. Judgement. */
const LEAST_ACCURACY_M = 6
/** What was walked within this of the aim is ground looked at, m. */
const LOOKED_WITHIN_M = 60

/** The way to one part, step by step. */
export class Walk {
  fix = $state.raw<Fix | null>(null)
  step = $state.raw<WalkStep | null>(null)
  /** What the top edge shows, from magnetic north; null without a compass. */
  shown_deg = $state<number | null>(null)
  compass = $state<CompassState>('good')
  trouble = $state<string | null>(null)
  noted = $state(false)

  /** Where the arrow points, clockwise from the top of the screen; null while nothing tells. */
  readonly arrow_deg: number | null = $derived.by(() => {
    const { step, fix, shown_deg, compass } = this
    if (!step || !fix) return null
    if (this.isWalking) return turn_deg(fix.course_deg ?? 0, step.bearing_true_deg)
    return shown_deg === null || compass !== 'good' ? null : turn_deg(shown_deg, step.bearing_magnetic_deg)
  })
  /** Inside the accuracy of the receiver there is no way left to point. */
  readonly isThere: boolean = $derived.by(() => {
    const { step, fix } = this
    return step !== null && fix !== null && step.distance_m <= Math.max(LEAST_ACCURACY_M, fix.accuracy_m)
  })

  readonly #backend: Backend
  readonly #of: Device
  readonly #id: string
  readonly #part: PartAnswer
  readonly #path: Fix[] = []
  #asked: Fix | null = null
  #asking = false
  #told = false

  constructor(backend: Backend, device: Device, id: string, part: PartAnswer) {
    this.#backend = backend
    this.#of = device
    this.#id = id
    this.#part = part
  }

  get part(): PartAnswer {
    return this.#part
  }

  get isWalking(): boolean {
    const { fix } = this
    return fix !== null && (fix.speed_mps ?? 0) >= WALKING_MPS && fix.course_deg !== null && fix.course_deg !== undefined
  }

  /** Begins to watch. Returns what ends it. */
  begin(): () => void {
    const steady = new Steady()
    const check = new CompassCheck()
    void this.#of.wakeLock.hold()
    const ends = [
      this.#of.receiver.watch(
        (fix) => {
          const taken = steady.takes(fix)
          if (!taken) return
          this.fix = taken
          this.#path.push(taken)
          if (this.shown_deg !== null && this.step) {
            check.walks(taken.course_deg, taken.speed_mps, this.shown_deg + this.step.declination_deg)
            this.compass = check.state
          }
          void this.#ask(taken)
        },
        (none) => {
          if (!this.fix) this.trouble = say(`position.${none.why}`)
        },
      ),
      this.#of.compass.watch('top edge', (aim) => {
        check.sees(aim)
        this.compass = check.state
        this.shown_deg = aim.bearing_deg
      }),
    ]
    return () => {
      for (const end of ends) end()
      this.#of.wakeLock.release()
    }
  }

  async #ask(fix: Fix): Promise<void> {
    const last = this.#asked
    const fresh = !last || apart_m(last, fix) >= STEP_M || ((fix.at_ms ?? 0) - (last.at_ms ?? 0)) / 1000 >= STEP_S
    if (this.#asking || !fresh) return
    this.#asking = true
    this.#asked = fix
    try {
      this.step = await this.#backend.walkTo(this.#id, fix, fix.accuracy_m, this.#part.approach)
      this.trouble = null
      const stop = this.step.stop.length > 0
      if (stop && !this.#told) {
        this.#of.tone.sound('stop')
        this.#of.vibration.buzz('still')
      }
      this.#told = stop
    } catch (thrown) {
      this.trouble = Refusal.from(thrown).message
    } finally {
      this.#asking = false
    }
  }

  /** Looked around, and it is not here. The answer that knows it; null with the trouble said. */
  async notHere(): Promise<Answer | null> {
    const near = this.#path.filter((fix) => apart_m(fix, this.#part.aim) <= LOOKED_WITHIN_M)
    const fixes = near.length > 0 ? near : this.#path.slice(-1)
    const points = fixes.map(({ lat, lon, accuracy_m }): [number | null, number, number, number | null] => [null, lat, lon, Math.min(1000, Math.max(1, accuracy_m))])
    const [first] = points
    if (!first) return null
    try {
      const path = points.length > 1 ? points : [first, first]
      const answer = await this.#backend.addEvidence(this.#id, [{ kind: 'sweep', part: this.#part.part, path, set_aside: false }], this.#place())
      this.noted = true
      return answer
    } catch (thrown) {
      this.trouble = Refusal.from(thrown).message
      return null
    }
  }

  #place(): LatLon | null {
    return this.fix && { lat: this.fix.lat, lon: this.fix.lon }
  }
}
