import { Refusal, type Backend } from '../../lib/backend'
import type { ReadyFlight } from '../../lib/backend/calm'
import type { Answer, Field, Flight, LatLon, Motor, Recovery, Rocket, Stage } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { figureOf } from '../../lib/figure'
import { apart_m, watchSpot } from '../../lib/device/place'
import { NoFix, type Fix } from '../../lib/device/position'
import { say } from '../../lib/words'
import { lookOf, markedAt, NO_LOOK, sightingOf, type Look } from '../../parts/aim/look'
import type { LETTERS } from '../../parts/rocket/letters'
import { feltWind, towardOf, type Strength, type Toward } from '../../parts/wind/feel'

/** The questions, in the order they are asked. Wind and rocket are not needed for an answer. */
export const STEPS = ['seen', 'ago', 'pad', 'motor', 'wind', 'device', 'rocket'] as const
/** One of them. */
export type Step = (typeof STEPS)[number]

/** How long ago it went up, seconds. */
export const AGO_S = { now: 60, m5: 300, m15: 900, m30: 1800, h1: 3600, h3: 10_800, d1: 86_400 } as const
/** One of them. */
export type Ago = keyof typeof AGO_S

/** What may stand on its motor. */
export type Letter = (typeof LETTERS)[number] | 'unknown'

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

/** From here on nobody can say where the pad was: it is yet to be walked to. */
const VAGUE_M = 100

/** Names the one look among the evidence. */
const LOOK = 'look'

/** Whether a flight was told from memory: then every answer stays open to be added and corrected. */
export const isFromMemory = (flight: Flight): boolean => flight.launch.timed_by === 'recalled'

/** Whether the pad of a flight is yet to be walked to. */
export const isPadVague = ({ pad }: Flight): boolean => (pad.accuracy_m ?? 0) >= VAGUE_M

/** A flight told by somebody who has just lost a rocket, in any order and with gaps. */
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
  /** The flyer's own, one of which it may have been. */
  rockets = $state.raw<ReadyFlight[]>([])
  rocket = $state.raw<ReadyFlight | null>(null)
  /** Steps that were answered or passed over. */
  done = $state<readonly Step[]>([])

  readonly #backend: Backend
  readonly #of: Device
  #launchedAt: string | null = null
  #windAt: string | null = null
  /** Where the flyer stood when the pad was said to be here: whoever walks on does not take it along. */
  padThen = $state.raw<Fix | null>(null)
  #seenFrom: LatLon | null = null

  /** What was told of it before, which stands until it is answered anew; null of a flight nobody told yet. */
  readonly before: Flight | null
  /** Steps that were answered here. */
  #answered = $state.raw<readonly Step[]>([])

  /** `before` is a flight that was told from memory, to be gone on with. */
  constructor(backend: Backend, device: Device, before: Flight | null = null) {
    this.#backend = backend
    this.#of = device
    this.before = before
    if (before) this.#goOn(before)
  }

  #goOn({ id, evidence, launch, rocket, wind, pad }: Flight): void {
    this.id = id ?? null
    this.open = null
    const seen = evidence.find((it) => it.id === LOOK && !it.set_aside)
    if (seen?.kind === 'sighting') {
      this.look = lookOf(seen)
      this.#seenFrom = seen.from ?? pad
    }
    const stage = rocket.stages.at(-1)
    const { kind } = stage?.recovery ?? {}
    this.device = DEVICES.find((it) => it === kind) ?? null
    const from_deg = figureOf(wind.findLast((it) => it.method === 'feel')?.from_deg)
    this.toward = from_deg === null ? null : towardOf(from_deg + 180)
    const told: [Step, boolean][] = [['seen', seen !== undefined], ['ago', Boolean(launch.at)], ['pad', true], ['motor', Boolean(stage?.motor)], ['device', this.device !== null], ['wind', wind.length > 0]]
    this.done = told.flatMap(([step, is]) => (is ? [step] : []))
  }

  /** Begins to look where the flyer stands. Returns what ends it. */
  begin(): () => void {
    void this.#readGround()
    void this.#readFleet()
    return watchSpot(
      this.#of.receiver,
      (spot) => {
        this.positionTrouble = null
        this.here = spot
      },
      (none) => {
        if (!this.here) this.positionTrouble = say(`position.${none.why}`)
      },
    )
  }

  async #readFleet(): Promise<void> {
    try {
      this.rockets = await this.#backend.readyFlights()
    } catch {
      // Without a logbook there is no fleet.
    }
  }

  async #readGround(): Promise<void> {
    const { before } = this
    if (before) {
      this.ground = { field: before.field ?? null, pad: { lat: before.pad.lat, lon: before.pad.lon } }
      return
    }
    try {
      const known = (await this.#backend.listFlights()).filter((it) => !it.error && it.id !== this.id)
      const [last] = known
      if (!last) return
      const { field, pad } = await this.#backend.showFlight(last.id)
      this.ground = { field: field ?? null, pad: { lat: pad.lat, lon: pad.lon } }
    } catch {
      // Without a field of the day there is a blank sheet.
    }
  }

  /** The field of the day, unless the flyer stands somewhere else. */
  get field(): { field: Field | null; pad: LatLon } | null {
    const { ground, here, before } = this
    return ground && !before && here && apart_m(ground.pad, here) > OTHER_FIELD_M ? null : ground
  }

  /** Where the pad was, as far as anybody can say; null if the device has no place and none was tapped. */
  get pad(): (LatLon & { accuracy_m: number }) | null {
    if (this.before && !this.isAnswered('pad')) return { lat: this.before.pad.lat, lon: this.before.pad.lon, accuracy_m: this.before.pad.accuracy_m ?? TAPPED_M }
    if (this.padPlace === 'map' && this.padTapped) return { ...this.padTapped, accuracy_m: TAPPED_M }
    const near = this.padThen ?? this.here
    if (near) {
      const { lat, lon, accuracy_m } = near
      return { lat, lon, accuracy_m: Math.min(1000, Math.max(1, this.padPlace === 'here' ? accuracy_m : LATER_M)) }
    }
    return this.field ? { ...this.field.pad, accuracy_m: TAPPED_M } : null
  }

  /** Whether the pad is yet to be walked to: then it can be said to be here once the flyer stands there. */
  get padIsVague(): boolean {
    return this.before && !this.isAnswered('pad') ? isPadVague(this.before) : this.padPlace === 'later'
  }

  /** Whether a step was answered here. */
  isAnswered(step: Step): boolean {
    return this.#answered.includes(step)
  }

  #answers(step: Step): void {
    if (!this.isAnswered(step)) this.#answered = [...this.#answered, step]
  }

  takeLook(look: Look): void {
    // What is said besides of the same mark was seen from the same place.
    if (!look.mark || look.mark !== this.look.mark) this.#seenFrom = this.here
    this.look = look
    this.#answers('seen')
    if (look.pointed) this.finish('seen')
  }

  takeAgo(ago: Ago): void {
    this.ago = ago
    this.#answers('ago')
    this.#launchedAt = this.#of.clock.wall(AGO_S[ago])
    this.finish('ago')
  }

  takePad(place: PadPlace): void {
    const wasVague = this.padIsVague
    this.#answers('pad')
    this.padPlace = place
    // Who has walked there stands there now, and walks on.
    this.padThen = place === 'here' && wasVague ? this.here : null
    this.picking = place === 'map' ? 'pad' : null
    if (place !== 'map') this.finish('pad')
  }

  takeMotor(motor: Letter): void {
    this.motor = motor
    this.#answers('motor')
    this.finish('motor')
  }

  takeDevice(device: Down): void {
    this.device = device
    this.#answers('device')
    this.finish('device')
  }

  takeWind(toward: Toward | null, strength: Strength | null): void {
    this.toward = toward
    this.strength = strength
    this.#answers('wind')
    this.#windAt = this.#of.clock.wall()
  }

  /** Which of the flyer's own it was: what is known of that one need not be told again. */
  takeRocket(rocket: ReadyFlight): void {
    this.rocket = rocket
    this.#answers('rocket')
    this.finish('rocket')
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
      this.#answers('seen')
      this.#seenFrom = this.here
    }
  }

  /** The last question brings the answer: the wind, which helps most, is asked beside it, and can be left out. */
  get asksWind(): boolean {
    return this.open === 'device' && !this.done.includes('wind')
  }

  /** Answered or passed over: on to the next that is open. */
  finish(step: Step): void {
    const wasBeside = step === 'wind' && this.asksWind
    if (!this.done.includes(step)) this.done = [...this.done, step]
    if (wasBeside) return
    const rest = STEPS.filter((it) => !this.done.includes(it) && !this.#isNotNeeded(it))
    this.open = rest[0] ?? null
  }

  /** The pad is here unless somebody says otherwise; left of downwind needs to know where that is. */
  #isNotNeeded(step: Step): boolean {
    if (step === 'rocket') return true
    if (step === 'pad') return this.pad !== null
    return step === 'wind' && !(this.look.side !== null && this.toward === null)
  }

  /** Whether all that is needed was answered or passed over. */
  get complete(): boolean {
    return this.open === null
  }

  /** What was told, as the flight file has it; null without any place at all. */
  flight(): Flight | null {
    const { pad } = this
    if (!pad) return null
    return this.#over(
      this.before ?? {
        format: 'windfall-flight/1',
        id: this.id,
        title: say('lost.flight_title', { time: this.#of.clock.wall().slice(11, 16) }),
        pad,
        field: this.field?.field ?? null,
        wind: [],
        rocket: { stages: [{ splits_into: [] }] },
        launch: { timed_by: 'recalled' },
        evidence: [],
      },
    )
  }

  /** What was told of it before or elsewhere, with what was answered here in its place. */
  #over(told: Flight): Flight {
    const { pad, toward, strength, rocket } = this
    const has = (step: Step) => this.isAnswered(step)
    const felt = has('wind') ? feltWind(toward, strength, this.#windAt) : null
    const seen = sightingOf(this.look, 'lost', this.#seenFrom ?? this.here, null)
    const launch = has('ago') ? { ...told.launch, at: this.#launchedAt, timed_by: 'recalled' as const } : told.launch
    const time = (launch.at ?? this.#of.clock.wall()).slice(11, 16)
    return {
      ...told,
      id: this.id,
      title: rocket ? say('fly.flight_title', { rocket: rocket.name, time }) : (told.title ?? null),
      pad: has('pad') && pad ? { lat: pad.lat, lon: pad.lon, accuracy_m: pad.accuracy_m } : told.pad,
      wind: felt ? [...told.wind.filter((it) => it.method !== 'feel'), felt] : told.wind,
      rocket: this.#rocketOver(told.rocket),
      launch,
      // One look a flight: whatever of it is changed, it is the same.
      evidence: has('seen') ? [...(seen ? [{ ...seen, id: LOOK }] : []), ...told.evidence.filter((it) => it.id !== LOOK)] : told.evidence,
    }
  }

  #rocketOver(told: Rocket): Rocket {
    const before = told.stages.at(-1)
    const own = this.rocket?.flight.rocket
    const known = own ?? told
    const { motor, device } = this
    const last = (stage: Stage): Stage => ({
      ...stage,
      motor: this.isAnswered('motor') ? motorAs(stage.motor, motor === 'unknown' ? (own ? null : '') : motor) : motorAs(stage.motor, before?.motor ?? null),
      recovery: this.isAnswered('device') && device && device !== 'unknown' && stage.recovery?.kind !== device ? recoveryOf(device) : (stage.recovery ?? null),
    })
    return { ...known, stages: known.stages.map((stage, at, all) => (at === all.length - 1 ? last(stage) : stage)) }
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
        flight = this.#over(await this.#backend.showFlight(this.id))
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

/** The motor that is known, unless what was told is another; empty for none, null if nothing was told. */
function motorAs(known: Motor | null | undefined, told: Motor | null): Motor | null {
  const name = (motor: Motor | null | undefined) => (typeof motor === 'object' ? (motor?.designation ?? '') : (motor ?? ''))
  if (told === '') return null
  return told === null || name(known).startsWith(name(told)) ? (known ?? null) : told
}

function recoveryOf(device: 'parachute' | 'streamer' | 'tumble'): Recovery {
  return device === 'parachute' ? { kind: 'parachute', shape: 'round' } : { kind: device }
}
