import { pointed, type Axis, type DeviceAngles, type Pointed } from './orientation'

/** One reading: where the axis points, and the raw angles as they came. */
export interface Aim extends Pointed {
  raw: DeviceAngles
  at_ms: number
}

/** Where the device points. */
export interface Compass {
  /** Readings as they come; none on a device without the sensor. Returns what ends it. */
  watch(axis: Axis, onaim: (aim: Aim) => void): () => void
}

/** The sensor of the phone. Only absolute readings count: a relative one has no north. */
export function deviceCompass(page: Window = window): Compass {
  // A sensor speaks when something changes. Who begins to listen hears what it said last, while somebody listened.
  let last: { raw: DeviceAngles; at_ms: number } | null = null
  let listeners = 0
  return {
    watch: (axis, onaim) => {
      const tell = ({ raw, at_ms }: { raw: DeviceAngles; at_ms: number }) => {
        const turned = (page.screen as { orientation?: { angle: number } }).orientation?.angle ?? 0
        const aim = pointed(raw, axis, turned)
        if (aim) onaim({ ...aim, raw, at_ms })
      }
      const hear = (event: Event) => {
        const { alpha, beta, gamma } = event as DeviceOrientationEvent
        last = { raw: { alpha, beta, gamma }, at_ms: page.performance.now() }
        tell(last)
      }
      listeners++
      page.addEventListener('deviceorientationabsolute', hear)
      if (last) tell(last)
      return () => {
        page.removeEventListener('deviceorientationabsolute', hear)
        if (--listeners === 0) last = null
      }
    },
  }
}

/** A compass that points where it is told, at `at_ms`. */
export function fakeCompass(): Compass & { point(bearing_deg: number, elevation_deg: number, at_ms: number): void } {
  let told: ((aim: Aim) => void) | null = null
  return {
    watch: (_axis, onaim) => {
      told = onaim
      return () => {
        told = null
      }
    },
    point: (bearing_deg, elevation_deg, at_ms) =>
      told?.({ bearing_deg, elevation_deg, at_ms, raw: { alpha: null, beta: null, gamma: null } } as Aim),
  }
}

/**
 * The mean of directions on the circle, with their spread; null of none.
 *
 * Units: degrees; the spread is the root of the mean square distance from the mean.
 */
export function meanAim(aims: readonly Aim[]): { bearing_deg: number | null; elevation_deg: number; spread_deg: number } | null {
  if (aims.length === 0) return null
  const elevation_deg = aims.reduce((sum, it) => sum + it.elevation_deg, 0) / aims.length
  const bearings = aims.flatMap((it) => (it.bearing_deg === null ? [] : [it.bearing_deg]))
  const sum = (of: (rad: number) => number) => bearings.reduce((all, it) => all + of((it * Math.PI) / 180), 0)
  const [sin, cos] = [sum(Math.sin), sum(Math.cos)]
  if (bearings.length === 0 || Math.hypot(sin, cos) < 1e-9) return { bearing_deg: null, elevation_deg, spread_deg: 180 }
  const bearing_deg = ((Math.atan2(sin, cos) * 180) / Math.PI + 360) % 360
  const square = bearings.reduce((all, it) => all + turn_deg(bearing_deg, it) ** 2, 0) / bearings.length
  return { bearing_deg, elevation_deg, spread_deg: Math.sqrt(square) }
}

/** The turn from one bearing to another, -180 to 180, clockwise positive. */
export function turn_deg(from: number, to: number): number {
  return ((((to - from + 180) % 360) + 360) % 360) - 180
}

/** How good the compass is, as far as it shows. */
export type CompassState = 'good' | 'jumps' | 'disagrees' | 'corrected'

/** Nobody turns a phone so fast while pointing, degrees a second. Judgement. */
const FASTEST_DEGPS = 400
/** Jumps within {@link MEMORY_MS} that make a compass doubtful. */
const MOST_JUMPS = 3
const MEMORY_MS = 10_000
/** From here the way walked and the way shown are two things: beyond how people carry a phone. Judgement. */
const DISAGREEMENT_DEG = 35
/** Walking so fast that course over ground means something, m/s. */
const WALKING_MPS = 0.8
const MOST_DISAGREEMENTS = 4
/** So many steps that agree tell how far off it is; of the last so many. */
const LEAST_STEPS = 6
const MOST_STEPS = 12
/** They agree if they spread less than this, degrees. Judgement. */
const MOST_STRAY_DEG = 12
/** Less than this is how people carry a phone, and corrects nothing, degrees. Judgement. */
const LEAST_OFF_DEG = 10

/** Tells compass trouble from jumps, and from disagreement with the course over ground. */
export class CompassCheck {
  #last: Aim | null = null
  #jumps_ms: number[] = []
  #apart: number[] = []

  sees(aim: Aim): void {
    const last = this.#last
    this.#last = aim
    if (!last || aim.bearing_deg === null || last.bearing_deg === null) return
    // Near the vertical a bearing means nothing, and may leap.
    if (Math.max(Math.abs(aim.elevation_deg), Math.abs(last.elevation_deg)) > 70) return
    const elapsed_s = Math.max(0.001, (aim.at_ms - last.at_ms) / 1000)
    const turned = Math.abs(turn_deg(last.bearing_deg, aim.bearing_deg))
    if (turned > 20 && turned / elapsed_s > FASTEST_DEGPS) this.#jumps_ms.push(aim.at_ms)
    this.#jumps_ms = this.#jumps_ms.filter((at) => aim.at_ms - at <= MEMORY_MS)
  }

  /** A step while the phone is held in the direction of the walk; bearings from the same north. */
  walks(course_deg: number | null | undefined, speed_mps: number | null | undefined, shown_deg: number): void {
    if (course_deg === null || course_deg === undefined || !((speed_mps ?? 0) >= WALKING_MPS)) return
    this.#apart = [...this.#apart.slice(1 - MOST_STEPS), turn_deg(course_deg, shown_deg)]
  }

  /** What steps walked say must be added to what is shown, degrees; zero while they say nothing clear. */
  get correction_deg(): number {
    const all = this.#apart
    const [sin, cos] = [Math.sin, Math.cos].map((of) => all.reduce((sum, it) => sum + of((it * Math.PI) / 180), 0)) as [number, number]
    const off = (Math.atan2(sin, cos) * 180) / Math.PI
    const stray = Math.sqrt(all.reduce((sum, it) => sum + turn_deg(off, it) ** 2, 0) / Math.max(1, all.length))
    return all.length >= LEAST_STEPS && stray <= MOST_STRAY_DEG && Math.abs(off) >= LEAST_OFF_DEG ? -off : 0
  }

  get state(): CompassState {
    if (this.#jumps_ms.length >= MOST_JUMPS) return 'jumps'
    if (this.correction_deg !== 0) return 'corrected'
    const all = this.#apart.slice(-MOST_DISAGREEMENTS)
    if (all.length === MOST_DISAGREEMENTS && all.every((it) => Math.abs(it) > DISAGREEMENT_DEG)) return 'disagrees'
    return 'good'
  }
}
