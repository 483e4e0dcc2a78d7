import { Refusal, type Backend, type HeightCheck, type Piece, type WalkStep } from '../../lib/backend'
import type { Answer, Evidence, Flight, PartAnswer, SawMode, Sure } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { watchSpot } from '../../lib/device/place'
import { NoFix, type Fix } from '../../lib/device/position'
import { say } from '../../lib/words'

/** States of what was picked up, as the trade speaks of them. */
export const CONDITIONS = ['undamaged', 'fin', 'tube', 'nose', 'chute_burnt', 'zipper', 'lost_part'] as const
/** One of them. */
export type Condition = (typeof CONDITIONS)[number]

/** Why it came down so. */
export const CAUSES = ['opened', 'opened_late', 'tangled', 'none_opened', 'came_apart', 'cord_broke', 'motor_kicked_out', 'second_stage_unlit'] as const satisfies SawMode[]
/** One of them. */
export type Cause = (typeof CAUSES)[number]

/** Its words: the answer has the same ways, some under a name of its own. */
export const causeWords = (cause: Cause): string => say(cause === 'opened' ? 'mode.opens' : cause === 'opened_late' ? 'mode.opens_late' : `mode.${cause}`)

/** Two ways of coming apart look much alike: how to tell them. */
const TELLING = { came_apart: 'cause.came_apart', cord_broke: 'cause.cord_broke' } as const

/** A cause to choose. */
export const causeTag = (value: Cause): { value: Cause; label: string; detail?: string } => {
  const label = causeWords(value)
  return value === 'came_apart' || value === 'cord_broke' ? { value, label, detail: say(TELLING[value]) } : { value, label }
}

/** Names the finder's one word on what it did among the evidence: said once more, it corrects it. */
const WORD = 'word of the finder'

/** After these the charge or the motor may not have fired. */
const LIVE: readonly Cause[] = ['none_opened', 'second_stage_unlit']

/** A find: where, what, in what state. */
export class Finding {
  stage = $state<'what' | 'missing' | 'found'>('what')
  here = $state.raw<Fix | null>(null)
  trouble = $state<string | null>(null)
  noting = $state(false)
  condition = $state<Condition | null>(null)
  cause = $state<Cause | null>(null)
  /** How sure of that. */
  sure = $state<Sure>('think')
  /** How far and which way from the pad the part in hand lay, as the core measured it. */
  from_pad = $state.raw<WalkStep | null>(null)
  /** Name of the part in hand. */
  inHand = $state<string | null>(null)
  /** The answer after the find, once it is worked out. */
  answer = $state.raw<Answer | null>(null)
  /** The flight as it was known right after the find. */
  flown = $state.raw<Flight | null>(null)
  /** What is noted is worked in, behind what is on the screen. */
  working = $state(false)
  /** The answer that knows all that was noted so far. */
  settled: Promise<Answer> | null = null
  /** The height on the altimeter, m, once it is noted. */
  apogee_m = $state<number | null>(null)
  /** Between which heights it was expected to turn, once a reading is noted. */
  expected = $state.raw<HeightCheck | null>(null)
  /** What looks wrong with a height that is not noted yet. */
  doubt = $state.raw<(HeightCheck & { apogee_m: number }) | null>(null)
  /** A picture of the find: on the screen, and in the logbook if there is one. */
  photo = $state<string | null>(null)
  photoKept = $state(false)
  /** How far it lay from where we said, as the core measured it; null if nobody had said. */
  off = $state.raw<WalkStep | null>(null)

  /** Parts that were declared and are not found yet, the one that was looked for first. */
  readonly open: readonly string[]
  /** Whether the rocket was declared in parts. */
  readonly isDeclared: boolean
  /** Whether one part is looked for, another of the same being found. */
  readonly isOnePart: boolean
  /** Whether it has two stages: then one may not have lit. */
  readonly isStaged: boolean
  readonly part: string
  /** The answer that the flyer went by. */
  readonly said: Answer | null
  /** The charge or the motor may be live. */
  readonly isLive: boolean = $derived(this.cause !== null && LIVE.includes(this.cause))

  readonly #backend: Backend
  readonly #of: Device
  readonly #id: string
  readonly #found: readonly string[]
  #noted = false
  #turn = 0
  #whole = false

  constructor(backend: Backend, device: Device, id: string, flight: Flight, found: readonly string[], part: string, said: Answer | null = null) {
    this.#backend = backend
    this.#of = device
    this.#id = id
    this.part = part
    this.said = said
    const stage = flight.rocket.stages.find((it) => it.splits_into.some((piece) => piece.name === part))
    this.isDeclared = stage !== undefined
    this.isStaged = flight.rocket.stages.length > 1
    this.isOnePart = stage !== undefined && !found.includes(part) && stage.splits_into.some((it) => found.includes(it.name))
    this.#found = found
    const open = stage?.splits_into.map((it) => it.name).filter((it) => !found.includes(it)) ?? []
    this.open = [...open.filter((it) => it === part), ...open.filter((it) => it !== part)]
  }

  /** Begins to average where it lies. Returns what ends it. */
  begin(): () => void {
    return watchSpot(
      this.#of.receiver,
      (spot) => {
        // Once noted, the flyer may walk on.
        if (this.#noted) return
        this.here = spot
        this.trouble = null
      },
      (none) => {
        if (!this.here) this.trouble = say(`position.${none.why}`)
      },
    )
  }

  /** All of it: two taps and it is done. */
  async whole(): Promise<void> {
    this.#whole = true
    await this.#note(this.part, false, [])
  }

  /** Only part of a rocket whose parts nobody declared: what is missing is asked. */
  partly(): void {
    this.stage = 'missing'
  }

  /** The declared part that is in the hand. */
  async which(part: string): Promise<void> {
    await this.#note(part, true, [])
  }

  /** What is missing of a rocket whose parts were never declared. */
  async missing(pieces: readonly Piece[]): Promise<void> {
    await this.#note(this.part, true, [...pieces])
  }

  /** A height read off the altimeter, m above the pad. A slip is asked about first, unless it is `sure`. */
  async height(apogee_m: number, sure = false): Promise<void> {
    this.trouble = null
    this.noting = true
    try {
      const check = await this.#backend.checkAltimeter(this.#id, apogee_m)
      if (check.slip && !sure) {
        this.doubt = { ...check, apogee_m }
        return
      }
      this.doubt = null
      // Which part carries it is the core's to know.
      await this.#tell({ kind: 'altimeter', apogee_m, temperature_corrected: false, set_aside: false })
      this.apogee_m = apogee_m
      this.expected = check
    } catch (thrown) {
      this.trouble = Refusal.from(thrown).message
    } finally {
      this.noting = false
    }
  }

  /** A picture of it, as an address that holds the data. It stays on the screen if there is no logbook to keep it. */
  async takePhoto(data: string): Promise<void> {
    this.photo = data
    this.photoKept = false
    try {
      const { rocket } = await this.flight()
      await this.#backend.keepPhoto(rocket.id ?? rocket.name ?? this.#id, this.#id, this.inHand ?? this.part, data)
      this.photoKept = true
    } catch {
      // Said beside the picture.
    }
  }

  /** State and cause, told after the find, and how sure of the cause. */
  async describe(condition: Condition | null, cause: Cause | null, sure: Sure = this.sure): Promise<void> {
    const caused = cause !== this.cause || sure !== this.sure ? cause : null
    this.condition = condition
    this.cause = cause
    this.sure = sure
    try {
      const { here } = this
      if (condition && here && this.inHand) {
        const find = { id: this.#id, part: this.inHand, at: here, accuracy_m: accuracy_m(here), only_part: true, missing: [], from: null }
        await this.#backend.noteFind({ ...find, condition: say(`condition.${condition}`), to_mend: condition !== 'undamaged' })
      }
      if (caused) {
        await this.#tell({ id: WORD, kind: 'saw', mode: caused, sure, set_aside: false })
        await this.#backend.closeFlight(this.#id, caused)
      }
    } catch (thrown) {
      this.trouble = Refusal.from(thrown).message
    }
  }

  /** What is still missing after the find. */
  get rest(): readonly PartAnswer[] {
    const inHand = this.#whole ? [this.part, ...this.open] : [this.inHand]
    return this.answer?.parts.filter((it) => !inHand.includes(it.part) && !this.#found.includes(it.part)) ?? []
  }

  /** Names of the parts that are not in any hand, as soon as the find is noted. */
  get missed(): readonly string[] {
    const { evidence = [], rocket = null } = this.flown ?? {}
    const inHand = evidence.flatMap((it) => (it.kind === 'find' && !it.set_aside ? [it.part] : []))
    return rocket?.stages.flatMap((it) => it.splits_into.map(({ name }) => name)).filter((it) => !inHand.includes(it)) ?? []
  }

  /** Where a part was thought to be before the find: it, or the rocket that it was a part of. */
  saidOf(part: string): PartAnswer | null {
    const parts = this.said?.parts ?? []
    return parts.find((it) => it.part === part) ?? (parts.length === 1 ? (parts[0] ?? null) : null)
  }

  /** Which flight. */
  get id(): string {
    return this.#id
  }

  /** The flight as it is known now. */
  flight(): Promise<Flight> {
    return this.#backend.showFlight(this.#id)
  }

  /** Adds a piece to what is known, or corrects one, and has it worked in. */
  async #tell(piece: Evidence): Promise<void> {
    const flight = await this.flight()
    await this.#backend.tellFlight({ ...flight, id: this.#id, evidence: [...flight.evidence.filter((it) => !piece.id || it.id !== piece.id), piece] })
    this.#again()
  }

  /** Works the answer out anew, behind what is on the screen; the one asked for last counts. */
  #again(): void {
    const turn = ++this.#turn
    this.working = true
    this.settled = this.#backend.locateFlight(this.#id, null)
    this.settled.then(
      (answer) => {
        if (turn !== this.#turn) return
        this.answer = answer
        this.working = false
      },
      (thrown: unknown) => {
        if (turn !== this.#turn) return
        this.trouble = Refusal.from(thrown).message
        this.working = false
      },
    )
  }

  async #note(part: string, only_part: boolean, missing: Piece[]): Promise<void> {
    this.trouble = null
    this.noting = true
    try {
      const at = this.here ?? (await this.#of.receiver.fix())
      this.here = at
      this.#noted = true
      const find = { id: this.#id, part, at, accuracy_m: accuracy_m(at), condition: null, only_part, missing, from: null }
      const flight = await this.#backend.noteFind(find)
      const finds = flight.evidence.flatMap((it) => (it.kind === 'find' ? [it.part] : []))
      this.inHand = finds.includes(part) ? part : (finds.at(-1) ?? null)
      this.flown = flight
      this.#again()
      this.from_pad = await this.#backend.walkTo(this.#id, flight.pad, 0, at)
      const said = this.saidOf(part)
      if (said) this.off = await this.#backend.walkTo(this.#id, said.aim, 0, at)
      this.stage = 'found'
    } catch (thrown) {
      this.#noted = false
      this.trouble = thrown instanceof NoFix ? say(`position.${thrown.why}`) : Refusal.from(thrown).message
    } finally {
      this.noting = false
    }
  }
}

const accuracy_m = (fix: Fix) => Math.min(1000, Math.max(1, fix.accuracy_m))
