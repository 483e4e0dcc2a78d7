/** One sound of a message: how high, how long, and the silence after it. */
interface Note {
  hertz: number
  sounds_s: number
  rests_s: number
}

const note = (hertz: number, sounds_s: number, rests_s = 0.08): Note => ({ hertz, sounds_s, rests_s })

/** Messages for the ear, told apart by pitch and rhythm alone. */
export const TONES = {
  /** Three, two, one; and zero. */
  count: [note(880, 0.1)],
  zero: [note(1760, 0.5)],
  /** It should open now. */
  opening: [note(1320, 0.15)],
  /** Is it open? The same beep, twice: a question. */
  asked: [note(1320, 0.15, 0.15), note(1320, 0.15)],
  /** Nothing opened: look up, all of you. */
  heads_up: Array.from({ length: 6 }, (_, i) => note(i % 2 === 0 ? 2100 : 1500, 0.28, 0.04)),
  /** Stand still. */
  still: [note(440, 0.2), note(440, 0.2)],
  /** Off the line: look up your mark. */
  off: [note(600, 0.12), note(900, 0.12), note(600, 0.12)],
  /** You are there. */
  there: [note(880, 0.15), note(1100, 0.15), note(1320, 0.3)],
  /** Drink something. */
  drink: [note(990, 0.3, 0.2), note(990, 0.3)],
  /** Stop. */
  stop: [note(700, 0.5), note(500, 0.7)],
} as const satisfies Record<string, readonly Note[]>

/** One of the messages. */
export type ToneName = keyof typeof TONES

/** Speaks to the ear. */
export interface Tone {
  /** To be called from a tap: browsers keep quiet until the flyer has touched the page. */
  ready(): void
  sound(message: ToneName): void
}

/** The loudspeaker; silent where the web view has none. */
export function deviceTone(make: () => AudioContext | null = context): Tone {
  let audio: AudioContext | null = null
  const open = () => {
    audio ??= make()
    void audio?.resume().catch(() => undefined)
    return audio
  }
  return {
    ready: () => void open(),
    sound: (message) => {
      const out = open()
      if (!out) return
      let at_s = out.currentTime + 0.01
      for (const { hertz, sounds_s, rests_s } of TONES[message]) {
        const pitch = out.createOscillator()
        const volume = out.createGain()
        pitch.type = 'square' // carries farther over wind than a pure tone of the same peak
        pitch.frequency.value = hertz
        // No click at either end.
        volume.gain.setValueAtTime(0, at_s)
        volume.gain.linearRampToValueAtTime(0.9, at_s + 0.01)
        volume.gain.setValueAtTime(0.9, at_s + sounds_s - 0.02)
        volume.gain.linearRampToValueAtTime(0, at_s + sounds_s)
        pitch.connect(volume).connect(out.destination)
        pitch.start(at_s)
        pitch.stop(at_s + sounds_s)
        at_s += sounds_s + rests_s
      }
    },
  }
}

function context(): AudioContext | null {
  try {
    return new AudioContext()
  } catch {
    return null
  }
}

/** A tone that only remembers. */
export function fakeTone(): Tone & { heard: ToneName[] } {
  const heard: ToneName[] = []
  return { heard, ready: () => undefined, sound: (message) => heard.push(message) }
}
