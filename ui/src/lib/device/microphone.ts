/**
 * Listens for the ignition, only if the flyer asks for it. What is heard is measured block by block and forgotten:
 * nothing is kept, nothing leaves the device.
 */
export interface Microphone {
  /** Calls `onlevel` with the level of each block, decibels below full scale. Rejects if it is not allowed. */
  listen(onlevel: (level_db: number) => void): Promise<() => void>
}

/** Level of a block of samples between -1 and 1, decibels below full scale; -120 for silence. */
export function level_db(block: Float32Array): number {
  let sum = 0
  for (const sample of block) sum += sample * sample
  const mean = sum / Math.max(1, block.length)
  return mean > 1e-12 ? 10 * Math.log10(mean) : -120
}

/** Above the level before it by this much, decibels: a hiss that begins, not a voice or a gust. Judgement. */
const LEAP_DB = 18
/** A level below this is no motor nearby. Judgement. */
const LEAST_DB = -30
/** Blocks that must stay loud: a motor burns on, a clap does not. */
const LOUD_BLOCKS = 6
/** Share of the way that the remembered level goes with each quiet block. */
const SETTLING = 0.08

/** Tells the ignition from the levels: it begins suddenly and lasts. */
export class Ignition {
  #quiet_db: number | null = null
  #loud = 0

  /** True once, with the block that settles it: {@link LOUD_BLOCKS} after the sound began. */
  hears(level: number): boolean {
    const quiet = this.#quiet_db
    if (quiet === null) {
      this.#quiet_db = level
      return false
    }
    if (level > quiet + LEAP_DB && level > LEAST_DB) {
      this.#loud++
      return this.#loud === LOUD_BLOCKS
    }
    this.#loud = 0
    this.#quiet_db = quiet + SETTLING * (level - quiet)
    return false
  }
}

/** Seconds from the beginning of the sound to the block that settles it, for blocks of `block_s`. */
export const heardAfter_s = (block_s: number) => (LOUD_BLOCKS - 1) * block_s

/** Length of a block of the device's microphone. */
export const BLOCK_S = 0.02

/** What gives access to it. */
export interface Devices {
  getUserMedia(wanted: MediaStreamConstraints): Promise<MediaStream>
}

/** The microphone of the device. */
export function deviceMicrophone(devices: Devices | undefined): Microphone {
  return {
    listen: async (onlevel) => {
      if (!devices) throw new Error('no microphone')
      // As it sounds: what makes voices clearer would take a motor for noise.
      const raw = { echoCancellation: false, noiseSuppression: false, autoGainControl: false }
      const stream = await devices.getUserMedia({ audio: raw })
      const audio = new AudioContext()
      const ear = audio.createAnalyser()
      ear.fftSize = 1024
      audio.createMediaStreamSource(stream).connect(ear)
      const block = new Float32Array(ear.fftSize)
      const timer = setInterval(() => {
        ear.getFloatTimeDomainData(block)
        onlevel(level_db(block))
      }, BLOCK_S * 1000)
      return () => {
        clearInterval(timer)
        for (const track of stream.getTracks()) track.stop()
        void audio.close()
      }
    },
  }
}

/** A microphone that hears what it is told. */
export function fakeMicrophone(): Microphone & { level(level_db: number): void } {
  let ear: ((level_db: number) => void) | null = null
  return {
    listen: (onlevel) => {
      ear = onlevel
      return Promise.resolve(() => {
        ear = null
      })
    },
    level: (level) => ear?.(level),
  }
}
