import type { Backend } from '../../lib/backend'
import type { Photo, PhotoOf } from '../../lib/backend/calm'
import { Attempts } from '../shared/attempts.svelte'

/** The pictures of one thing. */
export class Album extends Attempts {
  photos = $state.raw<Photo[]>([])
  readonly #backend: Backend
  readonly #of: PhotoOf
  #id: string | null = null

  constructor(backend: Backend, of: PhotoOf) {
    super()
    this.#backend = backend
    this.#of = of
  }

  async open(id: string | null): Promise<void> {
    this.#id = id
    this.photos = []
    if (!id) return
    await this.attempt(async () => {
      const photos = await this.#backend.photos(this.#of, id)
      if (this.#id === id) this.photos = photos
    })
  }

  async add(data: string): Promise<void> {
    const id = this.#id
    if (id) await this.attempt(async () => { this.photos = await this.#backend.addPhoto(this.#of, id, data) })
  }

  /** Set aside: it stays in the logbook and is not shown. */
  async drop(fact: string): Promise<void> {
    await this.attempt(async () => {
      await this.#backend.setAside(fact)
      this.photos = this.photos.filter((it) => it.fact !== fact)
    })
  }
}
