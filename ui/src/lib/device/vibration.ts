/** Messages for the hand, each a pattern of its own: milliseconds on, off, on ... */
export const BUZZ = {
  /** A tap was taken. */
  taken: [40],
  /** Three, two, one; and zero. */
  count: [60],
  zero: [500],
  /** It should open now. */
  opening: [150],
  /** Stand still. */
  still: [250, 120, 250],
  /** Off the line. */
  off: [120, 80, 120, 80, 120],
  /** You are there. */
  there: [80, 60, 400],
  /** Drink something. */
  drink: [300],
  /** Stop: road, rails, water or wires. */
  stop: [900, 200, 900],
  /** A question. */
  asked: [80, 120, 80],
  /** Heads up. */
  heads_up: [600, 150, 600, 150, 600],
} as const

/** One of the messages. */
export type Buzz = keyof typeof BUZZ

/** Speaks to the hand. */
export interface Vibration {
  buzz(message: Buzz): void
}

/** The motor of the phone; nothing happens where there is none. */
export function deviceVibration(device: { vibrate?: (pattern: number[]) => boolean } = navigator): Vibration {
  return {
    buzz: (message) => {
      device.vibrate?.([...BUZZ[message]])
    },
  }
}

/** A vibration that only remembers. */
export function fakeVibration(): Vibration & { felt: Buzz[] } {
  const felt: Buzz[] = []
  return { felt, buzz: (message) => felt.push(message) }
}
