import type { Backend } from '../../lib/backend'
import type { PhoneChecks, PointedAt, Site } from '../../lib/backend/calm'
import type { Clock } from '../../lib/device/clock'
import { thisPhone } from '../../lib/device/phone'
import { Averaged } from '../../lib/device/place'
import type { Fix, PositionReceiver } from '../../lib/device/position'
import { Attempts } from '../../parts/shared/attempts.svelte'

/** How far the compass of this phone is off: it is pointed at one thing whose place is known, or along one's own shadow. */
export class PhoneCheck extends Attempts {
  readonly phone = thisPhone()
  /** Where it is held. */
  here = $state.raw<Fix | null>(null)
  /** Why that is not known. */
  noFix = $state.raw<unknown>(null)
  /** The field of today, with places that one can point at. */
  site = $state.raw<Site | null>(null)
  /** What it is pointed at. */
  target = $state.raw<PointedAt | null>(null)
  /** What came of it. */
  too_much_deg = $state<number | null>(null)
  /** Whether that is more than a compass is off: nothing was noted, and it has to be pointed again. */
  isDoubted = $state(false)
  phones = $state.raw<PhoneChecks[]>([])
  readonly #backend: Backend
  readonly #clock: Clock

  constructor(backend: Backend, clock: Clock) {
    super()
    this.#backend = backend
    this.#clock = clock
  }

  /** Returns what ends the watching of the place. */
  open(receiver: PositionReceiver): () => void {
    void this.attempt(async () => {
      const [phones, day] = await Promise.all([this.#backend.headingChecks(), this.#backend.day()])
      this.phones = phones
      this.site = day.site
    })
    const stood = new Averaged()
    return receiver.watch(
      (fix) => {
        stood.add(fix)
        this.here = stood.fix
        this.noFix = null
      },
      (none) => (this.noFix = none),
    )
  }

  aimAt(target: PointedAt): void {
    this.target = target
    this.too_much_deg = null
    this.isDoubted = false
  }

  async pointed(bearing_deg: number): Promise<void> {
    const { here, target } = this
    if (!here || !target) return
    const before_deg = this.isDoubted ? this.too_much_deg : null
    this.too_much_deg = null
    this.isDoubted = false
    await this.attempt(async () => {
      const check = { before_deg, phone: this.phone, from: here, accuracy_m: Math.min(1000, here.accuracy_m), to: target, now: this.#clock.wall(), bearing_deg }
      const { id, too_much_deg } = await this.#backend.checkHeading(check)
      this.too_much_deg = too_much_deg
      this.isDoubted = id === null
      this.phones = await this.#backend.headingChecks()
    })
  }

  /** A check is kept but not used, or used again. */
  async setAside(check: PhoneChecks['checks'][number]): Promise<void> {
    await this.attempt(async () => {
      if (check.set_aside_by) await this.#backend.undo(check.set_aside_by)
      else await this.#backend.setAside(check.id)
      this.phones = await this.#backend.headingChecks()
    })
  }
}
