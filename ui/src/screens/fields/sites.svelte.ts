import type { Backend } from '../../lib/backend'
import type { ComesFirst, Day, HowFar, KeepSite, Looked, Permission, Proposals, Site, Spot } from '../../lib/backend/calm'
import type { Field, Hazard, HazardKind, LatLon } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { apart_m, watchSpot } from '../../lib/device/place'
import type { Fix } from '../../lib/device/position'
import { geometryOf } from '../../lib/map/ground'
import { typedPlace } from '../../lib/units'
import { say } from '../../lib/words'
import { Attempts } from '../../parts/shared/attempts.svelte'
import { figureOf } from '../../lib/figure'

/** What is drawn: the field itself, or something to keep away from. */
export type Drawn = 'outline' | HazardKind
/** Of these one draws the edge, of all others the course. */
const AREAS: Drawn[] = ['outline', 'water', 'trees', 'buildings', 'crop', 'livestock', 'private_land', 'other']
/** Nearer than this one stands on the field, and not at home. Judgement. */
const AT_FIELD_M = 1000

/** The fields of a flyer, and the one that is being looked at. */
export class SitesHere extends Attempts {
  sites = $state.raw<Site[] | null>(null)
  site = $state.raw<Site | null>(null)
  /** Name of a field that is being made. */
  name = $state('')
  /** Where the flyer stands, the better the longer they do. */
  here = $state.raw<Fix | null>(null)
  /** Where the pad was tapped or typed; it takes the place of where one stands. */
  tapped = $state.raw<LatLon | null>(null)
  /** A place that is being typed, and whether it is none. */
  coordinates = $state('')
  isNoPlace = $state(false)
  /** Whether what was tapped is the place that was typed. */
  isTyped = $state(false)
  drawing = $state<Drawn | null>(null)
  corners = $state.raw<LatLon[]>([])
  /** How high it stands, if that was told. */
  height_m = $state<number | null>(null)
  proposals = $state.raw<Proposals | null>(null)
  /** What was removed last, while it can be marked again. */
  dropped = $state.raw<{ site: string; index: number; hazard: Hazard } | null>(null)
  /** A pad that was set aside last, and the fact that did it. */
  droppedPad = $state.raw<{ site: string; name: string; aside: string } | null>(null)
  /** The look that was removed last, while it can come back. */
  droppedLook = $state.raw<{ site: string; look: Looked } | null>(null)
  /** Which of them are confirmed. */
  confirmed = $state.raw<readonly number[]>([])
  noFix = $state(false)
  /** From which pad one looks downwind, if it was chosen. */
  lookPad = $state<string | null>(null)
  /** Today: its pad and its wind. */
  #day = $state.raw<Day | null>(null)
  readonly #backend: Backend
  readonly #of: Device

  constructor(backend: Backend, device: Device) {
    super()
    this.#backend = backend
    this.#of = device
  }

  /** Begins to watch where the flyer stands. Returns what ends it. */
  begin(): () => void {
    return watchSpot(
      this.#of.receiver,
      (spot) => {
        this.noFix = false
        this.here = spot
      },
      () => (this.noFix = true),
    )
  }

  async open(id: string | null = null): Promise<void> {
    await this.attempt(async () => {
      this.sites = await this.#backend.sites()
      this.#day = await this.#backend.day()
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

  type(coordinates: string): void {
    this.coordinates = coordinates
    this.isNoPlace = false
    if (this.isTyped) this.standHere()
  }

  /** Whoever stands there needs no place from elsewhere. */
  standHere(): void {
    this.tapped = null
    this.isTyped = false
  }

  /** The place that was typed: coordinates, or a link as maps give them, which the core reads. Whether it is one. */
  async goTo(): Promise<boolean> {
    const plain = this.coordinates.trim()
    const at = plain.startsWith('geo:') ? await this.#linked(plain) : typedPlace(plain)
    this.isNoPlace = at === null
    if (at) this.tapped = at
    this.isTyped = at !== null
    return this.isTyped
  }

  async #linked(link: string): Promise<LatLon | null> {
    try {
      const got = await this.#backend.takeShared(link, null)
      return got.kind === 'target' ? got.at : null
    } catch {
      return null
    }
  }

  /** Whether a place was typed that was not taken yet, and is none: then nothing is kept somewhere else. */
  async #isAstray(): Promise<boolean> {
    return this.coordinates.trim() !== '' && !this.isTyped && !(await this.goTo())
  }

  /** Keeps a new field with its pad; its identifier, or null with the trouble said. */
  async make(): Promise<string | null> {
    if (await this.#isAstray()) return null
    const { pad } = this
    let id: string | null = null
    await this.attempt(async () => {
      id = await this.#backend.keepSite({ field: { name: this.name.trim(), hazards: [] }, ...(pad ? { pad } : {}) })
      this.standHere()
      this.coordinates = ''
      await this.open(id)
    })
    return id
  }

  /** What is being kept: the next change begins from what comes of it. */
  #kept: Promise<void> = Promise.resolve()

  #change(what: Partial<KeepSite>, told?: Field | ((now: Field) => Field)): Promise<void> {
    const id = this.site?.id
    const keep = async () => {
      const { site } = this
      if (!site || site.id !== id) return
      await this.attempt(async () => {
        const field = typeof told === 'function' ? told(site.field) : (told ?? site.field)
        await this.#backend.keepSite({ id: site.id, field, ...what })
        await this.open(site.id)
      })
    }
    this.#kept = this.#kept.then(keep)
    return this.#kept
  }

  /** Whether it was kept. */
  async keepPad(name: string): Promise<boolean> {
    if (await this.#isAstray()) return false
    const { pad } = this
    if (pad) await this.#change({ pad: { ...pad, name: name.trim() || pad.name } })
    this.standHere()
    this.coordinates = ''
    return this.trouble === null
  }

  /** Calls a pad otherwise. Whether it is done. */
  async renamePad(pad: string, name: string): Promise<boolean> {
    const { site } = this
    if (!site) return false
    await this.attempt(async () => {
      this.site = await this.#backend.renamePad(site.id, pad, name)
    })
    return this.trouble === null
  }

  /** A pad is kept, but nobody starts from it any more. */
  async dropPad(name: string): Promise<void> {
    const { site } = this
    if (!site) return
    await this.attempt(async () => {
      const aside = await this.#backend.dropPad(site.id, name)
      this.droppedPad = { site: site.id, name, aside }
      await this.open(site.id)
    })
  }

  async bringPadBack(): Promise<void> {
    const { site, droppedPad } = this
    if (!site || droppedPad?.site !== site.id) return
    await this.attempt(async () => {
      await this.#backend.undo(droppedPad.aside)
      this.droppedPad = null
      await this.open(site.id)
    })
  }

  /** Where one stands, or where it was tapped or typed from home. */
  async keepBase(name: string): Promise<void> {
    if (await this.#isAstray()) return
    const { pad } = this
    if (pad) await this.#change({ base: { ...pad, name } })
    this.standHere()
    this.coordinates = ''
  }

  async rename(name: string): Promise<void> {
    if (name.trim()) await this.#change({}, (field) => ({ ...field, name: name.trim() }))
  }

  async permit(permission: Permission): Promise<void> {
    await this.#change({ permission })
  }

  /** The pad that was chosen; else the one that somebody stands at, that of today, the first. */
  get lookFrom(): Spot | null {
    const { site, here } = this
    const pads = site?.pads ?? []
    const named = (name: string | null | undefined) => pads.find((it) => it.name === name)
    const near = here && pads.filter((it) => apart_m(it, here) < AT_FIELD_M).toSorted((a, b) => apart_m(a, here) - apart_m(b, here))[0]
    return named(this.lookPad) ?? near ?? (this.#day?.site?.id === site?.id ? named(this.#day?.pad?.name) : null) ?? pads[0] ?? null
  }

  /** Where the wind goes that was told last today, degrees from true north; null if nobody told it. */
  get downwind_deg(): number | null {
    const last = this.#day?.wind.at(-1)
    const from_deg = last?.north === 'magnetic' ? null : figureOf(last?.from_deg)
    return from_deg === null ? null : from_deg + 180
  }

  async look(toward_deg: number, what: ComesFirst, how_far: HowFar): Promise<void> {
    const { site } = this
    const from = this.lookFrom ?? this.here
    if (!site || !from) return
    await this.attempt(async () => {
      this.site = await this.#backend.lookDownwind(site.id, { from: { lat: from.lat, lon: from.lon }, toward_deg, what, how_far })
    })
  }

  /** A look that was mistaken, with what it marked. */
  async dropLook(look: Looked): Promise<void> {
    const { site } = this
    if (!site) return
    await this.attempt(async () => {
      this.site = await this.#backend.dropLook(site.id, look)
      this.droppedLook = { site: site.id, look }
    })
  }

  /** The same look once more. */
  async bringLookBack(look: Looked): Promise<void> {
    const { site } = this
    if (!site) return
    await this.attempt(async () => {
      this.site = await this.#backend.lookDownwind(site.id, look)
      this.droppedLook = null
    })
  }

  /** What the ground is like, or who comes by. */
  async tellGround(told: Pick<Field, 'ground' | 'place'>): Promise<void> {
    await this.#change({}, (field) => ({ ...field, ...told }))
  }

  draw(what: Drawn): void {
    this.drawing = what
    this.height_m = null
    this.corners = []
  }

  pick(at: LatLon): void {
    if (this.drawing) this.corners = [...this.corners, at]
    else {
      this.tapped = at
      this.coordinates = ''
      this.isTyped = this.isNoPlace = false
    }
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
        : { ...site.field, hazards: [...site.field.hazards, { kind: drawing, name: name.trim() || null, geometry: geometry as Hazard['geometry'], ...(this.height_m !== null && { height_m: this.height_m }) }] }
    await this.#change({}, field)
    this.drawing = null
    this.corners = []
  }

  async drop(index: number): Promise<void> {
    const { site } = this
    const hazard = site?.field.hazards[index]
    if (!site || !hazard) return
    await this.#change({}, { ...site.field, hazards: site.field.hazards.filter((_, at) => at !== index) })
    if (this.trouble === null) this.dropped = { site: site.id, index, hazard }
  }

  /** What was removed last is marked again. */
  async bringBack(): Promise<void> {
    const { site, dropped } = this
    if (!site || dropped?.site !== site.id) return
    await this.#change({}, { ...site.field, hazards: site.field.hazards.toSpliced(dropped.index, 0, dropped.hazard) })
    if (this.trouble === null) this.dropped = null
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
