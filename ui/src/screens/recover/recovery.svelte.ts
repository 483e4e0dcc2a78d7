import { Refusal, type Backend, type FlightSummary } from '../../lib/backend'
import type { Answer, Flight, LatLon, Mode, ModeAnswer, PartAnswer, Sentence } from '../../lib/backend/generated'
import { apart_m } from '../../lib/device/place'
import { NoFix, type PositionReceiver } from '../../lib/device/position'
import { decodeDensity, type LandingDensity } from '../../lib/map/density'
import { say } from '../../lib/words'
import { inWords } from '../../lib/words/sentence'

/** Something that went wrong, and the way to try it again. */
export interface Trouble {
  code: string
  message: string
  again: () => void
}

/** A receiver that is as near as this tells where somebody stands, m; nearer to the pad than so, they are at it. Judgement. */
const GOOD_M = 25
const AT_PAD_M = 30
/** Farther from the pad than this nobody is about to walk: at home, in the evening, an answer is read from the pad. Judgement. */
const ON_FIELD_M = 5000

/** A flight just told: what is known of it at once, and how to ask for its answer. */
export interface Handed {
  id: string
  flight: Flight
  rough: Answer | null
  answer: () => Promise<Answer>
}

/** The search for one flight: what was asked, what came back. */
export class Recovery {
  flights = $state.raw<FlightSummary[] | null>(null)
  id = $state<string | null>(null)
  flight = $state.raw<Flight | null>(null)
  answer = $state.raw<Answer | null>(null)
  density = $state.raw<LandingDensity | null>(null)
  /** Why there is no shading; the answer stands without it. */
  densityTrouble = $state<string | null>(null)
  trouble = $state.raw<Trouble | null>(null)
  positionTrouble = $state<string | null>(null)
  locating = $state(false)
  finding = $state(false)
  /** What is shown came at once; the answer is still worked out. */
  isRough = $state(false)
  /** Where the flyer stands; null at the pad. */
  from = $state.raw<LatLon | null>(null)
  partName = $state<string | null>(null)
  /** Null for all modes mixed. */
  mode = $state<Mode | null>(null)

  /** Parts that somebody has in hand. */
  readonly found: readonly string[] = $derived(
    this.flight?.evidence.flatMap((it) => (it.kind === 'find' && !it.set_aside ? [it.part] : [])) ?? [],
  )
  readonly part: PartAnswer | null = $derived(
    this.answer?.parts.find((it) => it.part === this.partName) ?? this.answer?.parts[0] ?? null,
  )
  readonly modeAnswer: ModeAnswer | null = $derived(this.part?.modes.find((it) => it.mode === this.mode) ?? null)

  /** Why nobody should set out yet for what is chosen. */
  readonly stay: Sentence | null = $derived.by(() => (this.isRough ? { say: 'not_settled' } : (this.part?.stay ?? this.modeAnswer?.stay ?? null)))

  /** What is about the way to the chosen part goes first; if it came down as chosen, about the way to there. */
  readonly cautions: string[] = $derived.by(() => this.cautionsOn((this.modeAnswer ? this.modeAnswer.approach : this.part?.approach)?.said))

  /** The same for a walker on the way to the chosen part, whose way ends for a reason of its own. */
  cautionsOn(reason: Sentence | null | undefined): string[] {
    const part = this.part?.part
    const usual = this.answer?.said.cautions.filter((it) => it.say !== 'on_the_way_to' || it.part !== part) ?? []
    return [...(reason && part ? [{ say: 'on_the_way_to' as const, part, caution: reason }] : []), ...usual].map(inWords)
  }

  /** Whether the logbook is open and nothing is known to be wrong with it. */
  isLogbookWell = $state(true)

  readonly #backend: Backend
  readonly #receiver: PositionReceiver
  // Nothing on the screen reads it: it spares a question when the flyer comes back to a part.
  // eslint-disable-next-line svelte/prefer-svelte-reactivity
  readonly #densities = new Map<string, LandingDensity>()
  // Answers that arrive after the flyer has moved on are dropped.
  #turn = 0
  /** The flyer said from where: nobody else does. */
  #isFromSaid = false

  constructor(backend: Backend, receiver: PositionReceiver) {
    this.#backend = backend
    this.#receiver = receiver
  }

  /** Reads the list of flights. */
  async open(): Promise<void> {
    this.trouble = null
    try {
      this.flights = await this.#backend.listFlights()
      const { trouble } = await this.#backend.logbookStanding()
      this.isLogbookWell = trouble === null
    } catch (thrown) {
      this.#failed(thrown, () => void this.open())
    }
  }

  /** Loads a flight and asks where it may be. */
  async choose(id: string): Promise<void> {
    const turn = ++this.#turn
    this.id = id
    this.flight = this.answer = this.density = this.trouble = null
    this.#isFromSaid = false
    this.densityTrouble = this.positionTrouble = this.partName = this.mode = this.from = null
    this.#densities.clear()
    this.isRough = false
    this.locating = true
    try {
      const [flight, answer] = await Promise.all([
        this.#backend.showFlight(id),
        this.#backend.locateFlight(id, null),
      ])
      if (turn !== this.#turn) return
      this.flight = flight
      this.answer = answer
      this.partName = this.#missing(answer)
      void this.#shade()
      void this.#standAsKnown()
    } catch (thrown) {
      if (turn === this.#turn) this.#failed(thrown, () => void this.choose(id))
    } finally {
      if (turn === this.#turn) this.locating = false
    }
  }

  /** A flight just told: what is known at once is shown, and the answer takes its place when it comes. */
  async follow(handed: Handed): Promise<void> {
    const { id, flight, rough, answer } = handed
    if (rough) this.take(flight, rough, true)
    else {
      this.#turn++
      this.flight = flight
      this.answer = this.density = this.densityTrouble = this.positionTrouble = this.mode = this.partName = this.from = null
      this.#densities.clear()
    }
    const turn = this.#turn
    this.id = id
    this.flights = this.trouble = null
    this.locating = true
    try {
      const got = await answer()
      const shown = await this.#backend.showFlight(id)
      if (turn !== this.#turn) return
      const { partName, mode } = this
      this.take(shown, got)
      // What was looked at meanwhile stays in view.
      if (partName !== null && got.parts.some((it) => it.part === partName)) this.choosePart(partName)
      if (mode !== null && this.part?.modes.some((it) => it.mode === mode)) this.chooseMode(mode)
    } catch (thrown) {
      if (turn !== this.#turn) return
      this.locating = false
      this.#failed(thrown, () => void this.follow({ ...handed, rough: this.answer }))
    }
  }

  /** Shows an answer that is here already. */
  take(flight: Flight, answer: Answer, isRough = false): void {
    this.#turn++
    this.flights = null // one more, or another
    const isSame = this.id === (flight.id ?? answer.flight)
    this.id = flight.id ?? answer.flight
    this.trouble = this.density = this.densityTrouble = this.positionTrouble = this.mode = null
    this.#densities.clear()
    if (!isSame) this.#isFromSaid = false
    this.locating = false
    this.isRough = isRough
    this.flight = flight
    this.answer = answer
    this.from = samePlace(answer.from, answer.pad) ? null : answer.from
    this.partName = this.#missing(answer)
    void this.#shade()
    if (!isRough && this.from === null) void this.#standAsKnown()
  }

  /** What is still missing is what is looked for. */
  #missing(answer: Answer): string | null {
    return (answer.parts.find((it) => !this.found.includes(it.part)) ?? answer.parts[0])?.part ?? null
  }

  /** Back to the list. */
  leave(): void {
    this.#turn++
    this.id = null
    this.locating = this.isRough = false
    this.trouble = null
    if (!this.flights) void this.open()
  }

  choosePart(part: string): void {
    this.partName = part
    // A mode that this part does not know cannot stay chosen.
    if (!this.modeAnswer) this.mode = null
    void this.#shade()
  }

  chooseMode(mode: Mode | null): void {
    this.mode = mode
    void this.#shade()
  }

  /** Tells one fact more of the flight that is shown, and shows the answer that knows it. What is wrong with it, or null. */
  async tell(change: (flight: Flight) => Flight): Promise<string | null> {
    const { id, from } = this
    if (id === null) return null
    const turn = ++this.#turn
    this.locating = true
    try {
      const flight = change(await this.#backend.showFlight(id))
      const answer = await this.#backend.answerFlight({ ...flight, id }, from)
      const shown = await this.#backend.showFlight(id)
      if (turn !== this.#turn) return null
      const { partName } = this
      this.take(shown, answer)
      if (partName !== null && answer.parts.some((it) => it.part === partName)) this.choosePart(partName)
      return null
    } catch (thrown) {
      return Refusal.from(thrown).message
    } finally {
      if (turn === this.#turn) this.locating = false
    }
  }

  /** Whoever stands on the field away from the pad goes from there: the same answer, read from another place. */
  async #standAsKnown(): Promise<void> {
    const [id, turn] = [this.id, this.#turn]
    const isStillWanted = () => id !== null && this.id === id && this.#turn === turn && !this.#isFromSaid
    const fix = await this.#receiver.known()
    const pad = this.answer?.pad
    // Where something was found is told from the pad.
    const isFound = this.part !== null && this.found.includes(this.part.part)
    if (!fix || !pad || isFound || !isStillWanted() || id === null || !(fix.accuracy_m <= GOOD_M)) return
    const far_m = apart_m(fix, pad)
    if (far_m <= AT_PAD_M + fix.accuracy_m || !(far_m <= ON_FIELD_M)) return
    const from = { lat: fix.lat, lon: fix.lon }
    try {
      const answer = await this.#backend.locateFlight(id, from)
      if (!isStillWanted()) return
      this.answer = answer
      this.from = from
    } catch {
      // The answer from the pad stands.
    }
  }

  /** Asks the device where it is, and the core again from there. */
  async standHere(): Promise<void> {
    this.#isFromSaid = true
    this.positionTrouble = null
    this.finding = true
    try {
      const { lat, lon } = await this.#receiver.fix()
      await this.#goFrom({ lat, lon })
    } catch (thrown) {
      this.positionTrouble = say(`position.${thrown instanceof NoFix ? thrown.why : 'unavailable'}`)
    } finally {
      this.finding = false
    }
  }

  /** Distance and bearing from the pad again. */
  async standAtPad(): Promise<void> {
    this.#isFromSaid = true
    this.positionTrouble = null
    await this.#goFrom(null)
  }

  async #goFrom(from: LatLon | null): Promise<void> {
    const id = this.id
    if (id === null) return
    const turn = ++this.#turn
    this.trouble = null
    this.locating = true
    try {
      const answer = await this.#backend.locateFlight(id, from)
      if (turn !== this.#turn) return
      this.answer = answer
      this.from = from
    } catch (thrown) {
      if (turn === this.#turn) this.#failed(thrown, () => void this.#goFrom(from))
    } finally {
      if (turn === this.#turn) this.locating = false
    }
  }

  async #shade(): Promise<void> {
    const { id, part, mode } = this
    // The shading is the answer's: asked for earlier, it would be worked out twice.
    if (id === null || !part || this.isRough) return
    const key = `${part.part}\n${mode ?? ''}`
    const isStillWanted = () => this.id === id && this.part?.part === part.part && this.mode === mode
    this.densityTrouble = null
    this.density = this.#densities.get(key) ?? null
    if (this.density) return
    try {
      const density = decodeDensity(await this.#backend.landingDensity(id, part.part, mode))
      if (this.id === id) this.#densities.set(key, density)
      if (isStillWanted()) this.density = density
    } catch (thrown) {
      if (isStillWanted()) this.densityTrouble = Refusal.from(thrown).message
    }
  }

  #failed(thrown: unknown, again: () => void): void {
    const { code, message } = Refusal.from(thrown)
    this.trouble = { code, message, again }
  }
}

const samePlace = (a: LatLon, b: LatLon): boolean => a.lat === b.lat && a.lon === b.lon
