import { Refusal, type Backend } from '../../lib/backend'
import type { Answer, Field, Flight, LatLon, Recovery } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { apart_m, Averaged, Steady } from '../../lib/device/place'
import { NoFix, type Fix } from '../../lib/device/position'
import { say } from '../../lib/words'
import { markedAt, NO_LOOK, sightingOf, type Look } from '../../parts/aim/look'
import { feltWind, type Strength, type Toward } from '../../parts/wind/feel'

/** The questions, in the order they are asked. The last is not needed for an answer. */
export const STEPS = ['seen', 'ago', 'pad', 'motor', 'device', 'wind'] as const
/** One of them. */
export type Step = (typeof STEPS)[number]

/** How long ago it went up, seconds. */
export const AGO_S = { now: 60, m5: 300, m15: 900, m30: 1800, h1: 3600, h3: 10_800, d1: 86_400 } as const
/** One of them. */
export type Ago = keyof typeof AGO_S

/** Letters of motors as boxes have them (NFPA 1122). */
export const LETTERS = ['1/2A', 'A', 'B', 'C', 'D', 'E', 'F', 'unknown'] as const
/** One of them. */
export type Letter = (typeof LETTERS)[number]

/** What it comes down on. */
export const DEVICES = ['parachute', 'streamer', 'tumble', 'unknown'] as const
/** One of them. */
export type Down = (typeof DEVICES)[number]

/** Where the pad was. */
export type PadPlace = 'here' | 'map' | 'later'

/** Farther than this from the field of the day it is another field, m. Judgement. */
const OTHER_FIELD_M = 3000
/** Radius around a pad that was tapped on a map, and around one that is yet to be walked to, m. Judgement. */
const TAPPED_M = 15
const LATER_M = 150

/** A flight told by somebody who has just lost a rocket, in any order and with gaps. */
/** Names the one look among the evidence. */
const LOOK = 'look'

export class Lost {
  open = $state<Step | null>('seen')
  look = $state.raw<Look>(NO_LOOK)
  ago = $state<Ago | null>(null)
  padPlace = $state<PadPlace>('here')
  padTapped = $state.raw<LatLon | null>(null)
  motor = $state<Letter | null>(null)
  device = $state<Down | null>(null)
  toward = $state<Toward | null>(null)
  strength = $state<Strength | null>(null)
  /** What the next tap on the map means. */
  picking = $state<'pad' | 'mark' | null>(null)
  here = $state.raw<Fix | null>(null)
  positionTrouble = $state<string | null>(null)
  /** The field of the day, if one is known. */
  ground = $state.raw<{ field: Field | null; pad: LatLon } | null>(null)
  answering = $state(false)
  trouble = $state.raw<{ message: string } | null>(null)
  id = $state<string | null>(null)
  /** Steps that were answered or passed over. */
  done = $state<readonly Step[]>([])

  readonly #backend: Backend
  readonly #of: Device
  #launchedAt: string | null = null
  #windAt: string | null = null
  /** Where the flyer stood when the pad was said to be here: whoever walks on does not take it along. */
  padThen = $state.raw<Fix | null>(null)
  #seenFrom: LatLon | null = null

  constructor(backend: Backend, device: Device) {
    this.#backend = backend
    this.#of = device
  }

  /** Begins to look where the flyer stands. Returns what ends it. */
  begin(): () => void {
    void this.#readGround()
    const steady = new Steady()
    let spot = new Averaged()
    return this.#of.receiver.watch(
      (fix) => {
        const taken = steady.takes(fix)
        if (!taken) return
        // Another spot: the flyer has gone on.
        if (spot.fix && apart_m(spot.fix, taken) > 2 * (spot.fix.accuracy_m + taken.accuracy_m)) spot = new Averaged()
        spot.add(taken)
        this.positionTrouble = null
        this.here = spot.fix
      },
      (none) => {
        if (!this.here) this.positionTrouble = say(`position.${none.why}`)
      },
    )
  }

  async #readGround(): Promise<void> {
    try {
      const known = (await this.#backend.listFlights()).filter((it) => !it.error && it.id !== this.id)
      const last = known.at(-1)
      if (!last) return
      const { field, pad } = await this.#backend.showFlight(last.id)
      this.ground = { field: field ?? null, pad: { lat: pad.lat, lon: pad.lon } }
    } catch {
      // Without a field of the day there is a blank sheet.
    }
  }

  /** The field of the day, unless the flyer stands somewhere else. */
  get field(): { field: Field | null; pad: LatLon } | null {
    const { ground, here } = this
    return ground && here && apart_m(ground.pad, here) > OTHER_FIELD_M ? null : ground
  }

  /** Where the pad was, as far as anybody can say; null if the device has no place and none was tapped. */
  get pad(): (LatLon & { accuracy_m: number }) | null {
    if (this.padPlace === 'map' && this.padTapped) return { ...this.padTapped, accuracy_m: TAPPED_M }
    const near = this.padThen ?? this.here
    if (near) {
      const { lat, lon, accuracy_m } = near
      return { lat, lon, accuracy_m: Math.min(1000, Math.max(1, this.padPlace === 'here' ? accuracy_m : LATER_M)) }
    }
    return this.field ? { ...this.field.pad, accuracy_m: TAPPED_M } : null
  }

  takeLook(look: Look): void {
    this.look = look
    this.#seenFrom = this.here
    if (look.pointed) this.finish('seen')
  }

  takeAgo(ago: Ago): void {
    this.ago = ago
    this.#launchedAt = this.#of.clock.wall(AGO_S[ago])
    this.finish('ago')
  }

  takePad(place: PadPlace): void {
    this.padPlace = place
    this.padThen = null
    this.picking = place === 'map' ? 'pad' : null
    if (place !== 'map') this.finish('pad')
  }

  takeMotor(motor: Letter): void {
    this.motor = motor
    this.finish('motor')
  }

  takeDevice(device: Down): void {
    this.device = device
    this.finish('device')
  }

  takeWind(toward: Toward | null, strength: Strength | null): void {
    this.toward = toward
    this.strength = strength
    this.#windAt = this.#of.clock.wall()
  }

  /** A tap on the map, if one was asked for. */
  pick(at: LatLon): void {
    const { picking } = this
    this.picking = null
    if (picking === 'pad') {
      this.padTapped = at
      this.padPlace = 'map'
      this.finish('pad')
    } else if (picking === 'mark') {
      this.look = markedAt(this.look, at)
      this.#seenFrom = this.here
    }
  }

  /** Answered or passed over: on to the next that is open. */
  finish(step: Step): void {
    if (!this.done.includes(step)) this.done = [...this.done, step]
    const rest = STEPS.filter((it) => !this.done.includes(it) && !this.#isNotNeeded(it))
    this.open = rest[0] ?? null
  }

  /** The pad is here unless somebody says otherwise; left of downwind needs to know where that is. */
  #isNotNeeded(step: Step): boolean {
    if (step === 'pad') return this.pad !== null
    return step === 'wind' && !(this.look.side !== null && this.toward === null)
  }

  /** Whether all that is needed was answered or passed over. */
  get complete(): boolean {
    return this.open === null
  }

  /** What was told, as the flight file has it; null without any place at all. */
  flight(): Flight | null {
    const { pad, motor, device, toward, strength } = this
    if (!pad) return null
    const seen = sightingOf(this.look, 'lost', this.#seenFrom ?? this.here, null)
    const felt = feltWind(toward, strength, this.#windAt)
    return {
      format: 'windfall-flight/1',
      id: this.id,
      title: say('lost.flight_title', { time: this.#of.clock.wall().slice(11, 16) }),
      pad: { lat: pad.lat, lon: pad.lon, accuracy_m: pad.accuracy_m },
      field: this.field?.field ?? null,
      wind: felt ? [felt] : [],
      rocket: {
        stages: [
          {
            motor: motor === null || motor === 'unknown' ? null : motor,
            recovery: device === null || device === 'unknown' ? null : recoveryOf(device),
            splits_into: [],
          },
        ],
      },
      launch: { at: this.#launchedAt, timed_by: 'recalled' },
      // One look a flight: whatever of it is changed, it is the same.
      evidence: seen ? [{ ...seen, id: LOOK }] : [],
    }
  }

  /** Asks the core. Null, with the trouble said, if it could not answer. */
  async answer(): Promise<{ flight: Flight; answer: Answer } | null> {
    this.trouble = null
    if (!this.pad) await this.#waitForPlace()
    const own = this.flight()
    if (!own) {
      this.trouble = { message: this.positionTrouble ?? say('position.unavailable') }
      return null
    }
    this.answering = true
    try {
      let flight = own
      if (this.id) {
        // What was told since on other screens stays told.
        const { title, evidence } = await this.#backend.showFlight(this.id)
        flight = { ...flight, title: title ?? null, evidence: [...flight.evidence, ...evidence.filter((it) => it.id !== LOOK)] }
      }
      const answer = await this.#backend.answerFlight(flight, this.here)
      this.id = answer.flight
      if (this.padPlace !== 'map') this.padThen ??= this.here
      return { flight: { ...flight, id: this.id }, answer }
    } catch (thrown) {
      this.trouble = { message: Refusal.from(thrown).message }
      return null
    } finally {
      this.answering = false
    }
  }

  async #waitForPlace(): Promise<void> {
    this.answering = true
    try {
      this.here = await this.#of.receiver.fix()
    } catch (thrown) {
      this.positionTrouble = say(`position.${thrown instanceof NoFix ? thrown.why : 'unavailable'}`)
    } finally {
      this.answering = false
    }
  }
}

function recoveryOf(device: 'parachute' | 'streamer' | 'tumble'): Recovery {
  return device === 'parachute' ? { kind: 'parachute', shape: 'round' } : { kind: device }
}
