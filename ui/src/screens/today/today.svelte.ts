import { Refusal, type Backend } from '../../lib/backend'
import type { ComesDown, ComesFirst, Day, Fleet, HowFar, Leans, Load, Looked, MayComeDown, PickUpWalk, Plan, Search, Shown, Site, TellWind, ToldWind, WeatherTaken } from '../../lib/backend/calm'
import type { LatLon } from '../../lib/backend/generated'
import { Attempts } from '../../parts/shared/attempts.svelte'

/** Today: the plan, the wind so far, what is still out there. */
export class Today extends Attempts {
  day = $state.raw<Day | null>(null)
  fleet = $state.raw<Fleet | null>(null)
  sites = $state.raw<Site[]>([])
  shown = $state.raw<Shown | null>(null)
  /** Where the load may come down; null until it is worked out, or if too little was entered. */
  comesDown = $state.raw<MayComeDown | null>(null)
  /** What a file of the weather brought. */
  taken = $state.raw<WeatherTaken | null>(null)
  /** The setting aside of what a file brought, while it can be brought back. */
  takenAway = $state<string | null>(null)
  /** The look that was removed last, while it can come back. */
  droppedLook = $state.raw<Looked | null>(null)
  busy = $state(false)
  readonly #backend: Backend

  constructor(backend: Backend) {
    super()
    this.#backend = backend
  }

  async open(): Promise<void> {
    await this.attempt(async () => {
      const [day, fleet, sites] = await Promise.all([this.#backend.day(), this.#backend.fleet(), this.#backend.sites()])
      this.day = day
      this.fleet = fleet
      this.sites = sites
    })
  }

  /** The plan with changes; as the last time without any. */
  async plan(change: Partial<Plan> = {}): Promise<void> {
    await this.attempt(async () => {
      const plan = this.day?.plan ?? { load: [] }
      this.day = await this.#backend.keepDay({ ...plan, ...change })
    })
  }

  /** Into the load of today, or out of it. */
  async toggle(rocket: string): Promise<void> {
    const load = this.day?.plan.load ?? []
    const others = load.filter((it) => it.rocket !== rocket)
    await this.plan({ load: others.length < load.length ? others : [...load, { rocket }] })
  }

  /** Another motor or another device for today. Returns why not, if so. */
  async load(rocket: string, change: Partial<Omit<Load, 'rocket'>>): Promise<string | null> {
    const plan = this.day?.plan ?? { load: [] }
    try {
      this.day = await this.#backend.keepDay({ ...plan, load: plan.load.map((it) => (it.rocket === rocket ? { ...it, ...change } : it)) })
      return null
    } catch (thrown) {
      return Refusal.from(thrown).message
    }
  }

  /** Whether what was missing of a flight was given up, and not found. */
  async isGivenUp({ flight, part }: { flight: string; part: string }): Promise<boolean> {
    let searches: Search[] = []
    await this.attempt(async () => {
      ;({ searches } = await this.#backend.story(flight))
    })
    return searches.some((it) => it.part === part && !it.open)
  }

  /** Where one rocket of the load may come down; null while too little is known. */
  async comesDownOf(rocket: string): Promise<ComesDown | null> {
    let down: ComesDown | null = null
    await this.attempt(async () => {
      down = (await this.#backend.mayComeDown(rocket))?.rockets[0] ?? null
    })
    return down
  }

  /** Leans one way, or into the wind, of one rocket of the load; null while too little is known. */
  async leansOf(rocket: string, toward_deg: number | null): Promise<Leans | null> {
    let leans: Leans | null = null
    await this.attempt(async () => {
      leans = await this.#backend.compareLeans(rocket, toward_deg)
    })
    return leans
  }

  /** What somebody saw downwind of the pad. */
  async look(what: ComesFirst, how_far: HowFar): Promise<void> {
    const { site, pad, look_deg } = this.day ?? {}
    if (!site || !pad || look_deg == null) return
    await this.attempt(async () => {
      await this.#backend.lookDownwind(site.id, { from: { lat: pad.lat, lon: pad.lon }, toward_deg: look_deg, what, how_far })
      this.day = await this.#backend.day()
    })
  }

  /** A look that was mistaken is taken off the field. */
  async dropLook(look: Looked): Promise<void> {
    const { site } = this.day ?? {}
    if (!site) return
    await this.attempt(async () => {
      await this.#backend.dropLook(site.id, look)
      this.droppedLook = look
      this.day = await this.#backend.day()
    })
  }

  /** The same look once more. */
  async bringLookBack(look: Looked): Promise<void> {
    const { site } = this.day ?? {}
    if (!site) return
    await this.attempt(async () => {
      await this.#backend.lookDownwind(site.id, look)
      this.droppedLook = null
      this.day = await this.#backend.day()
    })
  }

  async wind(told: TellWind): Promise<void> {
    await this.attempt(async () => {
      this.day = await this.#backend.tellWind(told)
    })
  }

  /** A reading that was mistaken is kept, but no flight starts with it; or it is used again. */
  async setWindAside(told: ToldWind): Promise<void> {
    await this.attempt(async () => {
      if (told.set_aside_by) await this.#backend.undo(told.set_aside_by)
      else await this.#backend.setAside(told.id)
      this.day = await this.#backend.day()
    })
  }

  /** Everything that is out there in one round; null with the trouble said. */
  async pickUp(from: LatLon | null): Promise<PickUpWalk | null> {
    let walk: PickUpWalk | null = null
    this.busy = true
    await this.attempt(async () => {
      walk = await this.#backend.pickUp(from)
    })
    this.busy = false
    return walk
  }

  async weather(text: string): Promise<void> {
    this.taken = this.takenAway = null
    await this.attempt(async () => {
      this.taken = await this.#backend.takeWeather(text)
      this.day = this.taken.day
    })
  }

  /** What a file brought is kept, but no flight starts with it. */
  async dropWeather(): Promise<void> {
    const fact = this.day?.weather
    if (!fact) return
    await this.attempt(async () => {
      this.takenAway = await this.#backend.setAside(fact)
      this.taken = null
      this.day = await this.#backend.day()
    })
  }

  async bringWeatherBack(): Promise<void> {
    const aside = this.takenAway
    if (aside === null) return
    await this.attempt(async () => {
      await this.#backend.undo(aside)
      this.takenAway = null
      this.day = await this.#backend.day()
    })
  }

  /** The screen for somebody else at once; where it may come down as soon as it is worked out. */
  async show(): Promise<void> {
    this.comesDown = null
    await this.attempt(async () => {
      this.shown = await this.#backend.showSomeone()
      // Of what nobody entered for today nothing is claimed.
      if (this.shown.rockets.length > 0) this.comesDown = await this.#backend.mayComeDown(null)
    })
  }
}
