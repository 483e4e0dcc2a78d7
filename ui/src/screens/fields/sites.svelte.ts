import type { Backend } from '../../lib/backend'
import type { ComesFirst, HowFar, KeepSite, Permission, Proposals, Site, Spot } from '../../lib/backend/calm'
import type { Field, Hazard, HazardKind, LatLon } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { apart_m, Averaged, Steady } from '../../lib/device/place'
import type { Fix } from '../../lib/device/position'
import { geometryOf } from '../../lib/map/ground'
import { say } from '../../lib/words'
import { Attempts } from '../../parts/shared/attempts.svelte'

/** What is drawn: the field itself, or something to keep away from. */
export type Drawn = 'outline' | HazardKind
/** Of these one draws the edge, of all others the course. */
const AREAS: Drawn[] = ['outline', 'water', 'trees', 'buildings', 'crop', 'livestock', 'private_land', 'other']
/** So far from where the averaging began, one has walked on. */
const WALKED_M = 12

/** The fields of a flyer, and the one that is being looked at. */
export class SitesHere extends Attempts {
  sites = $state.raw<Site[] | null>(null)
  site = $state.raw<Site | null>(null)
  /** Name of a field that is being made. */
  name = $state('')
  /** Where the flyer stands, the better the longer they do. */
  here = $state.raw<Fix | null>(null)
  /** Where the pad was tapped; it takes the place of where one stands. */
  tapped = $state.raw<LatLon | null>(null)
  drawing = $state<Drawn | null>(null)
  corners = $state.raw<LatLon[]>([])
  proposals = $state.raw<Proposals | null>(null)
  /** Which of them are confirmed. */
  confirmed = $state.raw<readonly number[]>([])
  noFix = $state(false)
  readonly #backend: Backend
  readonly #of: Device

  constructor(backend: Backend, device: Device) {
    super()
    this.#backend = backend
    this.#of = device
  }

  /** Begins to watch where the flyer stands. Returns what ends it. */
  begin(): () => void {
    const steady = new Steady()
    let spot = new Averaged()
    let begun: Fix | null = null
    return this.#of.receiver.watch(
      (fix) => {
        const taken = steady.takes(fix)
        if (!taken) return
        this.noFix = false
        if (begun && apart_m(begun, taken) > WALKED_M + taken.accuracy_m) {
          spot = new Averaged()
          begun = null
        }
        begun ??= taken
        spot.add(taken)
        this.here = spot.fix
      },
      () => (this.noFix = true),
    )
  }

  async open(id: string | null = null): Promise<void> {
    await this.attempt(async () => {
      this.sites = await this.#backend.sites()
      if (id) this.site = this.sites.find((it) => it.id === id) ?? null
    })
  }

  /** Middle of the sheet. */
  get origin(): LatLon | null {
    return this.site?.pads[0] ?? this.tapped ?? this.here
  }

  get pad(): Spot | null {
    const { tapped, here } = this
    const name = say('map.pad')
    if (tapped) return { name, lat: tapped.lat, lon: tapped.lon, accuracy_m: 10 }
    return here && { name, lat: here.lat, lon: here.lon, accuracy_m: Math.round(here.accuracy_m * 10) / 10 }
  }

  /** A place from elsewhere: coordinates, or a link as maps give them. The core reads it. */
  async goTo(text: string): Promise<void> {
    const plain = text.trim()
    await this.attempt(async () => {
      const got = await this.#backend.takeShared(plain.startsWith('geo:') ? plain : `geo:${plain.replaceAll(/\s/g, '')}`, null)
      if (got.kind === 'target') this.tapped = got.at
    })
  }

  /** Keeps a new field with its pad; its identifier, or null with the trouble said. */
  async make(): Promise<string | null> {
    const { pad } = this
    let id: string | null = null
    await this.attempt(async () => {
      id = await this.#backend.keepSite({ field: { name: this.name.trim(), hazards: [] }, ...(pad ? { pad } : {}) })
      this.tapped = null
      await this.open(id)
    })
    return id
  }

  async #change(what: Partial<KeepSite>, field?: Field): Promise<void> {
    const { site } = this
    if (!site) return
    await this.attempt(async () => {
      await this.#backend.keepSite({ id: site.id, field: field ?? site.field, ...what })
      await this.open(site.id)
    })
  }

  async keepPad(name: string): Promise<void> {
    const { pad } = this
    if (pad) await this.#change({ pad: { ...pad, name: name.trim() || pad.name } })
    this.tapped = null
  }

  async keepBase(name: string): Promise<void> {
    const { here } = this
    if (here) await this.#change({ base: { name, lat: here.lat, lon: here.lon, accuracy_m: Math.max(1, Math.round(here.accuracy_m)) } })
  }

  async permit(permission: Permission): Promise<void> {
    await this.#change({ permission })
  }

  async look(toward_deg: number, what: ComesFirst, how_far: HowFar): Promise<void> {
    const { site } = this
    const from = site?.pads[0] ?? this.here
    if (!site || !from) return
    await this.attempt(async () => {
      this.site = await this.#backend.lookDownwind(site.id, { from: { lat: from.lat, lon: from.lon }, toward_deg, what, how_far })
    })
  }

  draw(what: Drawn): void {
    this.drawing = what
    this.corners = []
  }

  pick(at: LatLon): void {
    if (this.drawing) this.corners = [...this.corners, at]
    else this.tapped = at
  }

  get drawnGeometry(): ReturnType<typeof geometryOf> {
    return this.drawing && geometryOf(this.corners, AREAS.includes(this.drawing))
  }

  /** What was drawn becomes part of the field. */
  async finish(name: string): Promise<void> {
    const { site, drawing, drawnGeometry: geometry } = this
    if (!site || !drawing || !geometry) return
    const field: Field =
      drawing === 'outline'
        ? { ...site.field, outline: geometry as NonNullable<Field['outline']> }
        : { ...site.field, hazards: [...site.field.hazards, { kind: drawing, name: name.trim() || null, geometry: geometry as Hazard['geometry'] }] }
    await this.#change({}, field)
    this.drawing = null
    this.corners = []
  }

  async drop(index: number): Promise<void> {
    const { site } = this
    if (site) await this.#change({}, { ...site.field, hazards: site.field.hazards.filter((_, at) => at !== index) })
  }

  async readMap(text: string): Promise<void> {
    const about = this.origin
    if (!about) return
    await this.attempt(async () => {
      this.proposals = await this.#backend.importMap(text, about)
      this.confirmed = []
    })
  }

  toggle(index: number): void {
    const others = this.confirmed.filter((it) => it !== index)
    this.confirmed = others.length < this.confirmed.length ? others : [...others, index]
  }

  toggleAll(): void {
    const all = this.proposals?.near ?? []
    this.confirmed = this.confirmed.length === all.length ? [] : [...all.keys()]
  }

  async confirm(): Promise<void> {
    const { site, proposals } = this
    if (!site || !proposals) return
    const hazards = proposals.near.filter((_, index) => this.confirmed.includes(index)).map((it) => it.hazard)
    await this.#change({}, { ...site.field, hazards: [...site.field.hazards, ...hazards] })
    if (this.trouble === null) this.proposals = null
  }

  /** The field as the text of a file; null with the trouble said. */
  async write(withPicture: boolean): Promise<string | null> {
    const { site } = this
    let text: string | null = null
    if (site) await this.attempt(async () => { text = await this.#backend.writeSite(site.id, withPicture) })
    return text
  }

  async take(text: string): Promise<void> {
    await this.attempt(async () => {
      await this.open(await this.#backend.takeSite(text))
    })
  }
}
