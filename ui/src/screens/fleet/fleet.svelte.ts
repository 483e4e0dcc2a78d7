import { Refusal, type Backend } from '../../lib/backend'
import type { ComesDownOn, Fleet, FleetRocket, Hole, Joint, RocketTold, Size, Sketched, StageTold, Weight, Width } from '../../lib/backend/calm'
import { Attempts } from '../../parts/shared/attempts.svelte'

/** The stage below, as it is told so far. A booster mostly tumbles: common practice, no source. */
export class BoosterDraft {
  on = $state<ComesDownOn>('tumble')
  weight = $state.raw<Weight | null>(null)
  width = $state.raw<Width | null>(null)
  length = $state.raw<Size | null>(null)
  device = $state.raw<Size | null>(null)
}

/** The rocket as it is told so far. */
export class RocketDraft {
  name = $state('')
  motor = $state('')
  /** Motor of the stage below, if there is one. */
  booster = $state<string | null>(null)
  readonly below = new BoosterDraft()
  on = $state<ComesDownOn>('parachute')
  weight = $state.raw<Weight | null>(null)
  width = $state.raw<Width | null>(null)
  length = $state.raw<Size | null>(null)
  device = $state.raw<Size | null>(null)
  hole = $state<Hole | null>(null)
  joint = $state<Joint | null>(null)
  colours = $state('')
  labelled = $state(false)
  /** Parts that bear a number, if not every part does. */
  labels = $state.raw<readonly string[]>([])
  /** Of the fleet; null for a new one. */
  readonly id: string | null
  readonly known: FleetRocket | null
  readonly #before: string

  constructor(known: FleetRocket | null = null) {
    this.known = known
    this.id = known?.id ?? null
    const told = known?.told
    const top = told?.stages.at(-1)
    this.name = told?.name ?? known?.rocket.name ?? ''
    if (told && top) this.#take(told, top)
    this.#before = JSON.stringify(this.told)
  }

  #take(told: RocketTold, top: StageTold): void {
    this.motor = top.motor ?? ''
    this.booster = told.stages.length > 1 ? (told.stages[0]?.motor ?? '') : null
    const below = told.stages.length > 1 ? told.stages[0] : undefined
    if (below) {
      this.below.on = below.comes_down_on
      this.below.weight = below.weight ?? null
      this.below.width = below.width ?? null
      this.below.length = below.length ?? null
      this.below.device = below.device ?? null
    }
    this.on = top.comes_down_on
    this.weight = top.weight ?? null
    this.width = top.width ?? null
    this.length = top.length ?? null
    this.device = top.device ?? null
    this.hole = top.hole ?? null
    this.joint = top.joint ?? null
    this.colours = told.colours ?? ''
    this.labelled = told.labelled ?? false
    this.labels = told.labels ?? []
  }

  /** A part bears a number from now on, or no longer. */
  label(parts: readonly string[], part: string): void {
    const before = this.labelled ? parts : this.labels
    this.labels = before.includes(part) ? before.filter((it) => it !== part) : [...before, part]
    this.labelled = parts.every((it) => this.labels.includes(it))
  }

  /** Whether something would be lost by leaving. */
  get isChanged(): boolean {
    return JSON.stringify(this.told) !== this.#before
  }

  get told(): RocketTold {
    const top: StageTold = {
      motor: this.motor.trim() || null,
      comes_down_on: this.on,
      weight: this.weight,
      width: this.width,
      length: this.length,
      device: this.on === 'tumble' ? null : this.device,
      hole: this.on === 'parachute' ? this.hole : null,
      joint: this.joint,
    }
    const { below } = this
    const under: StageTold[] = this.booster === null ? [] : [{ motor: this.booster.trim() || null, comes_down_on: below.on, weight: below.weight, width: below.width, length: below.length, device: below.on === 'tumble' ? null : below.device }]
    return { name: this.name.trim(), stages: [...under, top], colours: this.colours.trim() || null, labelled: this.labelled, labels: this.labelled ? [] : [...this.labels] }
  }
}

/** The rockets of a flyer, the motors in the box, and the rocket that is being told. */
export class FleetHere extends Attempts {
  fleet = $state.raw<Fleet | null>(null)
  draft = $state.raw<RocketDraft | null>(null)
  sketched = $state.raw<Sketched | null>(null)
  /** What cannot be used of the draft, with the field that the core names. */
  wrong = $state<string | null>(null)
  /** Which stage's motor that is, from the bottom; null if it is something else. */
  wrongMotor = $state<number | null>(null)
  readonly #backend: Backend
  #asked = 0

  constructor(backend: Backend) {
    super()
    this.#backend = backend
  }

  async open(): Promise<void> {
    await this.attempt(async () => {
      this.fleet = await this.#backend.fleet()
      if (this.fleet.rockets.length === 0) this.draft ??= new RocketDraft()
    })
  }

  edit(known: FleetRocket | null): void {
    this.draft = new RocketDraft(known)
    this.sketched = known
    this.wrong = this.wrongMotor = null
  }

  /** What the core makes of the draft. Without a name there is nothing to make of it yet, but the motor can be read. */
  async sketch(): Promise<void> {
    const { draft } = this
    if (!draft) return
    const asked = ++this.#asked
    try {
      const sketched = await this.#backend.sketchRocket({ ...draft.told, name: draft.name.trim() || '-' })
      if (asked !== this.#asked) return
      this.sketched = sketched
      this.wrong = this.wrongMotor = null
    } catch (thrown) {
      if (asked !== this.#asked) return
      this.sketched = null
      const refusal = Refusal.from(thrown)
      this.wrong = refusal.message
      const [, stage] = /^stages\[(\d)\]\.motor$/.exec(refusal.field ?? '') ?? []
      this.wrongMotor = stage === undefined ? null : Number(stage)
    }
  }

  /** Keeps the draft; its identifier, or null with the trouble said. */
  async keep(): Promise<string | null> {
    const { draft } = this
    if (!draft) return null
    let id: string | null = null
    await this.attempt(async () => {
      id = await this.#backend.keepRocket(draft.id, draft.told)
      this.draft = null
      this.fleet = await this.#backend.fleet()
    })
    return id
  }

  async repair(note: string, done: boolean, rerigged = false): Promise<void> {
    const id = this.draft?.id
    if (!id || !note.trim()) return
    await this.attempt(async () => {
      this.fleet = await this.#backend.noteRepair(id, { note: note.trim(), done, rerigged })
    })
  }

  /** Lost or given away, or back again. The form closes: what was written in it is not kept by this. */
  async retire(retired: boolean): Promise<void> {
    const id = this.draft?.id
    if (!id) return
    await this.attempt(async () => {
      this.fleet = await this.#backend.retireRocket(id, retired)
      this.draft = null
    })
  }

  async stock(motor: string, change: number): Promise<void> {
    await this.attempt(async () => {
      this.fleet = await this.#backend.changeStock(motor, change)
    })
  }
}
