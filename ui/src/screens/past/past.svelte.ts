import type { Backend } from '../../lib/backend'
import type { DriftByWind, FleetRocket, FlightRow, SeasonStart, Story, StoryLine } from '../../lib/backend/calm'
import { say } from '../../lib/words'
import { Attempts } from '../../parts/shared/attempts.svelte'

/** So many flights stand above what they say together; the earlier ones on asking. */
const SHOWN_FIRST = 12

/** Past flights: the list, one story, how far the wind takes them, what a new season needs. */
export class Past extends Attempts {
  rows = $state.raw<FlightRow[] | null>(null)
  story = $state.raw<Story | null>(null)
  drift = $state.raw<DriftByWind | null>(null)
  season = $state.raw<SeasonStart | null>(null)
  text = $state('')
  rocket = $state<string | null>(null)
  /** All rockets that ever flew, whatever is filtered. */
  rockets = $state.raw<string[]>([])
  /** How many of the list are shown, the latest. */
  #most = $state(SHOWN_FIRST)
  #own = $state.raw<FleetRocket[]>([])
  readonly #backend: Backend
  #asked = 0

  constructor(backend: Backend) {
    super()
    this.#backend = backend
  }

  async open(): Promise<void> {
    await this.list()
    const flown = this.rows?.flatMap((it) => it.rocket ?? []) ?? []
    this.rockets = flown.filter((it, at) => flown.indexOf(it) === at)
    await this.attempt(async () => {
      const [drift, season, fleet] = await Promise.all([this.#backend.driftByWind(), this.#backend.seasonStart(), this.#backend.fleet()])
      this.#own = fleet.rockets
      this.drift = drift
      this.season = season
    })
  }

  async list(): Promise<void> {
    const asked = ++this.#asked
    await this.attempt(async () => {
      const rows = await this.#backend.listLog(this.text.trim(), this.rocket ?? '')
      if (asked === this.#asked) this.rows = rows
    })
  }

  /** How many flights of the list are not shown yet. */
  get earlier(): number {
    return Math.max(0, (this.rows?.length ?? 0) - this.#most)
  }

  showEarlier(): void {
    this.#most = Infinity
  }

  /** The days of the list, the latest first, each with its flights. */
  get days(): { day: string | null; flights: FlightRow[] }[] {
    const days: { day: string | null; flights: FlightRow[] }[] = []
    for (const row of this.rows?.toReversed().slice(0, this.#most) ?? []) {
      const day = row.launched_at?.slice(0, 10) ?? null
      const last = days.at(-1)
      if (last && last.day === day) last.flights.push(row)
      else days.push({ day, flights: [row] })
    }
    return days
  }

  async tell(flight: string): Promise<void> {
    await this.attempt(async () => {
      this.story = await this.#backend.story(flight)
    })
  }

  /** The whole flight is kept but not used; or used again. */
  async setAside(): Promise<void> {
    const { story } = this
    const id = story?.flight.id
    if (!story || !id) return
    await this.attempt(async () => {
      if (story.set_aside_by) await this.#backend.undo(story.set_aside_by)
      else if (story.word) await this.#backend.setAside(story.word)
      this.story = await this.#backend.story(id)
      this.drift = await this.#backend.driftByWind()
    })
  }

  /** One thing that was told of the flight is kept but not used, or used again. */
  async setLineAside({ word, set_aside_by }: StoryLine): Promise<void> {
    const id = this.story?.flight.id
    if (!id || !word) return
    await this.attempt(async () => {
      if (set_aside_by) await this.#backend.undo(set_aside_by)
      else await this.#backend.setAside(word)
      this.story = await this.#backend.story(id)
      this.drift = await this.#backend.driftByWind()
    })
  }

  /** Whether its rocket is none of the fleet, so that it may be given a name here. */
  get isFriends(): boolean {
    const { id, name } = this.story?.flight.rocket ?? {}
    const isOwn = this.#own.some((it) => (id == null ? it.rocket.name === name : it.id === id.split('/')[0]))
    return this.story?.set_aside_by === null && !isOwn
  }

  /** A friend's rocket is called after its owner, or by its name, wherever the flight is listed. */
  async nameFriends(name: string): Promise<void> {
    const flight = this.story?.flight
    const plain = name.trim()
    if (!flight?.id || !plain) return
    await this.attempt(async () => {
      const { rocket, title } = flight
      const time = flight.launch.at?.slice(11, 16)
      const called = time ? say('fly.flight_title', { rocket: plain, time }) : plain
      const isOfUse = title != null && rocket.name != null && title.includes(rocket.name)
      await this.#backend.tellFlight({ ...flight, title: isOfUse ? title.replace(rocket.name ?? '', plain) : called, rocket: { ...rocket, id: rocket.id ?? `friends-${plain}`, name: plain } })
      this.story = await this.#backend.story(flight.id ?? '')
    })
  }

  async giveUp(part: string, note: string): Promise<void> {
    await this.#searched((flight) => this.#backend.giveUp(flight, part, note.trim() || null))
  }

  async searchAgain(part: string): Promise<void> {
    await this.#searched((flight) => this.#backend.searchAgain(flight, part))
  }

  async #searched(change: (flight: string) => Promise<void>): Promise<void> {
    const id = this.story?.flight.id
    if (!id) return
    await this.attempt(async () => {
      await change(id)
      this.story = await this.#backend.story(id)
    })
  }
}
