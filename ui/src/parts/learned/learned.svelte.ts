import type { Backend } from '../../lib/backend'
import type { Believed, Progress } from '../../lib/backend/calm'

/** How often it is asked how far the reading is. */
const EVERY_MS = 400

/** What flights taught. They are read by the core, beside whatever else is done; here it is only said how far it is. */
export class Learned {
  said = $state.raw<Believed | null>(null)
  /** While flights are read. */
  progress = $state.raw<Progress | null>(null)
  trouble = $state.raw<unknown>(null)
  readonly #backend: Backend
  #left = false

  constructor(backend: Backend) {
    this.#backend = backend
  }

  /** Reads what was not read yet, after a reading that is under way already. Returns what ends the watching, not the reading. */
  open(): () => void {
    void this.#open()
    return () => {
      this.#left = true
    }
  }

  async #open(): Promise<void> {
    while (!this.#left && (await this.#isReading())) await pause(EVERY_MS)
    if (!this.#left) await this.learn(false)
  }

  /** Reads flights: all anew, or those that were not read yet. */
  async learn(rebuild: boolean): Promise<void> {
    this.trouble = null
    const timer = setInterval(() => void this.#isReading(), EVERY_MS)
    try {
      this.said = await this.#backend.beliefs(rebuild)
    } catch (thrown) {
      this.trouble = thrown
    } finally {
      clearInterval(timer)
      this.progress = null
    }
  }

  async #isReading(): Promise<boolean> {
    try {
      const progress = await this.#backend.beliefsProgress()
      this.progress = progress.done < progress.all ? progress : null
    } catch {
      this.progress = null
    }
    return this.progress !== null
  }
}

const pause = (ms: number) => new Promise((done) => setTimeout(done, ms))
