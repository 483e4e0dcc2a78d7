/** The attitude as the device tells it; an event of `deviceorientationabsolute` is one. Store it as it came. */
export type DeviceAngles = Pick<DeviceOrientationEvent, 'alpha' | 'beta' | 'gamma'>

/**
 * What the flyer points with: the rear camera looks out of the back of the screen; the top edge is that of the picture
 * on the screen, which is the edge above the screen only while the screen is not turned; ahead is halfway between the
 * two, which is where somebody looks who reads the screen, whether it lies flat in the hand or is held up.
 */
export type Axis = 'rear camera' | 'top edge' | 'ahead'

declare const meaning: unique symbol
type Degrees<Meaning extends string> = number & { readonly [meaning]: Meaning }

/** Clockwise from magnetic north, 0 <= bearing < 360. */
export type MagneticBearing = Degrees<'bearing from magnetic north'>

/** Above the horizon, -90 to 90. */
export type ElevationAngle = Degrees<'above the horizon'>

/** Where an axis of the device points. */
export interface Pointed {
  /** Null when the axis points straight up or down: there is none. */
  bearing_deg: MagneticBearing | null
  elevation_deg: ElevationAngle
}

/** Components along the device's or the earth's three axes; see {@link pointed} for both frames. */
type Direction = readonly [number, number, number]

/** As sine of the distance from the vertical; rounding alone stays a million times below. */
const VERTICAL = 1e-9

/**
 * Where an axis of the device points; null for a reading without numbers, such as the event of nulls that a page gets
 * when it registers.
 *
 * Units: `angles` in degrees, any turn of them; `screen_deg` is `screen.orientation.angle`.
 *
 * Frame: device axes right, top, out of the screen, in the device's natural orientation whatever the screen shows.
 * Earth axes east, north, up. The attitude is alpha about up, then beta about the turned right axis, then gamma about
 * the turned top axis, all right-handed. The north is that of the reading: magnetic for the absolute events of
 * Android. A relative event has no north, and must not come here.
 *
 * Near the vertical a small pointing error is a large one in bearing: that grows as 1 / cos(elevation), and is left to
 * who reads it.
 *
 * Source: W3C, Device Orientation and Motion, Appendix A.1 (w3c/deviceorientation, index.bs, commit 70d42d5).
 * DIFFERENCE: the turns are applied one by one, and the elevation is taken from the same vector. Sense of `screen_deg`:
 * W3C, Screen Orientation, note to `angle`: 90 when the device was turned 90 degrees counterclockwise.
 */
export function pointed({ alpha, beta, gamma }: DeviceAngles, axis: Axis, screen_deg = 0): Pointed | null {
  if (!isNumber(alpha) || !isNumber(beta) || !isNumber(gamma) || !isNumber(screen_deg)) return null
  const [east, north, up] = aboutThird(alpha, aboutFirst(beta, aboutSecond(gamma, inDevice(axis, screen_deg))))
  const level = Math.hypot(east, north)
  return {
    bearing_deg: level < VERTICAL ? null : (wrapped(degrees(Math.atan2(east, north))) as MagneticBearing),
    elevation_deg: degrees(Math.atan2(up, level)) as ElevationAngle,
  }
}

// The picture turns clockwise on a device that is turned counterclockwise, so that its top stays on top.
function inDevice(axis: Axis, screen_deg: number): Direction {
  if (axis === 'rear camera') return [0, 0, -1]
  const [right, top] = aboutThird(-screen_deg, [0, 1, 0])
  // Of no matter that it is longer: only its direction is read.
  return [right, top, axis === 'ahead' ? -1 : 0]
}

function aboutFirst(turn_deg: number, [a, b, c]: Direction): Direction {
  const [cos, sin] = cosSin(turn_deg)
  return [a, cos * b - sin * c, sin * b + cos * c]
}

function aboutSecond(turn_deg: number, [a, b, c]: Direction): Direction {
  const [cos, sin] = cosSin(turn_deg)
  return [cos * a + sin * c, b, cos * c - sin * a]
}

function aboutThird(turn_deg: number, [a, b, c]: Direction): Direction {
  const [cos, sin] = cosSin(turn_deg)
  return [cos * a - sin * b, sin * a + cos * b, c]
}

function cosSin(turn_deg: number): readonly [number, number] {
  const turn_rad = (turn_deg * Math.PI) / 180
  return [Math.cos(turn_rad), Math.sin(turn_rad)]
}

function degrees(angle_rad: number): number {
  return (angle_rad * 180) / Math.PI
}

function wrapped(turn_deg: number): number {
  return ((turn_deg % 360) + 360) % 360 // the last: a tiny negative rounds up to 360 itself
}

function isNumber(value: number | null): value is number {
  return Number.isFinite(value)
}
