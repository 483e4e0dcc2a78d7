import type { Backend } from '../../lib/backend'
import { Refusal } from '../../lib/backend'
import type { Dot, KnownPoint, Laid, Site } from '../../lib/backend/calm'
import { bring } from '../../lib/backend/upload'
import type { LatLon } from '../../lib/backend/generated'
import { mapPicture } from '../../lib/device/photo'
import { Attempts } from '../../parts/shared/attempts.svelte'

/** Fewer points say nothing. */
const LEAST = 3

/** A picture or a file of tiles on its way under the map of a field. */
export class Placing extends Attempts {
  /** The picture that is being placed. */
  picture = $state.raw<ImageBitmap | null>(null)
  points = $state.raw<readonly KnownPoint[]>([])
  /** The point that was placed just now, until the next one is begun. */
  last = $state.raw<KnownPoint | null>(null)
  /** A dot that was tapped and has no place yet. */
  dot = $state.raw<Dot | null>(null)
  /** Its place is to be tapped on the map. */
  isOnMap = $state(false)
  /** Where the picture would lie. */
  laid = $state.raw<Laid | null>(null)
  /** Why it lies nowhere yet, as the core says it. */
  why = $state<string | null>(null)
  /** How much of a file has gone; null if none is on its way. */
  share = $state<number | null>(null)
  #file: Blob | null = null
  readonly #backend: Backend

  constructor(backend: Backend) {
    super()
    this.#backend = backend
  }

  async open(file: File): Promise<void> {
    await this.attempt(async () => {
      this.#file = await mapPicture(file)
      this.picture = await createImageBitmap(this.#file)
      this.points = []
      this.last = this.dot = this.laid = this.why = null
    })
  }

  close(): void {
    this.picture?.close()
    this.picture = this.last = this.dot = this.laid = this.why = this.#file = null
    this.points = []
    this.isOnMap = false
  }

  async place(at: LatLon, accuracy_m: number | null): Promise<void> {
    const { dot } = this
    if (!dot) return
    this.last = { ...dot, at: { lat: at.lat, lon: at.lon }, accuracy_m }
    this.points = [...this.points, this.last]
    this.dot = null
    this.isOnMap = false
    await this.#fit()
  }

  async drop(index: number): Promise<void> {
    this.points = this.points.filter((_, at) => at !== index)
    this.last = null
    await this.#fit()
  }

  async #fit(): Promise<void> {
    this.laid = this.why = null
    const { picture, points } = this
    if (!picture || points.length < LEAST) return
    try {
      this.laid = await this.#backend.fitPicture(picture.width, picture.height, [...points])
    } catch (thrown) {
      this.why = Refusal.from(thrown).message
    }
  }

  /** Lays the picture under the map of a field; the field with it, or null with the trouble said. */
  async keep(site: string): Promise<Site | null> {
    const kept = this.#file && (await this.#bring(site, this.#file, [...this.points]))
    if (kept) this.close()
    return kept
  }

  /** The same with a file of tiles. */
  async keepTiles(site: string, file: File): Promise<Site | null> {
    return this.#bring(site, file, [])
  }

  async takeAway(site: string): Promise<Site | null> {
    let plain: Site | null = null
    await this.attempt(async () => { plain = await this.#backend.dropBackground(site) })
    return plain
  }

  async #bring(site: string, file: Blob, points: KnownPoint[]): Promise<Site | null> {
    let kept: Site | null = null
    await this.attempt(async () => {
      this.share = 0
      const name = await bring(this.#backend, file, (share) => (this.share = share))
      kept = await this.#backend.keepBackground(site, name, points)
    })
    this.share = null
    return kept
  }
}
