/** What time it is, in two ways: one for waiting, one for writing down. */
export interface Clock {
  /** Milliseconds since some moment, never set back: for what lies between two taps. */
  now_ms(): number
  /** The clock of the wall with its offset from UTC, RFC 3339, `ago_s` seconds before now. */
  wall(ago_s?: number): string
}

/** The clocks of this device. */
export function deviceClock(): Clock {
  return {
    now_ms: () => performance.now(),
    wall: (ago_s = 0) => rfc3339(new Date(Date.now() - ago_s * 1000)),
  }
}

/** A clock that stands still until it is pushed. */
export interface FakeClock extends Clock {
  push(seconds: number): void
}

/** A clock that begins at `start` (RFC 3339) and shows it in UTC. */
export function fakeClock(start = '2031-05-11T08:00:00Z'): FakeClock {
  let at_ms = Date.parse(start)
  return {
    now_ms: () => at_ms,
    wall: (ago_s = 0) => rfc3339(new Date(at_ms - ago_s * 1000), 0),
    push: (seconds) => (at_ms += seconds * 1000),
  }
}

/**
 * A moment as the clock on the field shows it, with its offset.
 *
 * Units: `offset_min` minutes east of UTC; by default that of this device.
 */
export function rfc3339(moment: Date, offset_min = -moment.getTimezoneOffset()): string {
  const field = new Date(moment.getTime() + offset_min * 60_000)
  const two = (value: number) => String(Math.floor(value)).padStart(2, '0')
  const far = Math.abs(offset_min)
  return `${field.toISOString().slice(0, 19)}${offset_min < 0 ? '-' : '+'}${two(far / 60)}:${two(far % 60)}`
}
