import type { Backend } from '../../lib/backend'
import type { CameIn, FlightRow, LogbookCheck, LogbookStanding, OutFormat } from '../../lib/backend/calm'
import { bring } from '../../lib/backend/upload'
import type { Device } from '../../lib/device'
import { Attempts } from '../../parts/shared/attempts.svelte'

/** What each file is called at its end, and what it holds (RFC 7946, 4180; the rest as registered or by custom). */
const FILES: Record<OutFormat, { ending: string; type: string }> = {
  archive: { ending: 'jsonl', type: 'application/jsonl' },
  gpx: { ending: 'gpx', type: 'application/gpx+xml' },
  geojson: { ending: 'geojson', type: 'application/geo+json' },
  kml: { ending: 'kml', type: 'application/vnd.google-earth.kml+xml' },
  csv: { ending: 'csv', type: 'text/csv' },
}
/** So many flights to choose from at first, the latest; the earlier ones on asking. */
const SHOWN_FIRST = 12

/** The logbook as a thing to be kept: how it stands, out of this device and into it. */
export class Safe extends Attempts {
  standing = $state.raw<LogbookStanding | null>(null)
  /** What a look found that was asked for here. */
  checked = $state.raw<LogbookCheck | null>(null)
  isBackedUp = $state(false)
  /** Whether everything leaves with what lies under the maps. */
  withMaps = $state(true)
  /** What is being done. */
  busy = $state<'check' | 'back_up' | 'out' | 'in' | 'restore' | null>(null)
  /** How much of a file has come over, none to one. */
  share = $state(0)
  /** What became of a file that left. */
  left = $state.raw<{ name: string; how: 'saved' | 'shared' } | null>(null)
  /** What the last file brought. */
  came = $state.raw<CameIn | null>(null)
  /** Where what was there before a backup came is kept. */
  aside = $state<string | null>(null)
  /** A file of places, until somebody says to which flight they belong. */
  #waiting = $state.raw<File | null>(null)
  #flights = $state.raw<FlightRow[]>([])
  #most = $state(SHOWN_FIRST)
  readonly #backend: Backend
  readonly #device: Pick<Device, 'clock' | 'sharing'>

  constructor(backend: Backend, device: Pick<Device, 'clock' | 'sharing'>) {
    super()
    this.#backend = backend
    this.#device = device
  }

  async open(): Promise<void> {
    await this.attempt(async () => {
      this.standing = await this.#backend.logbookStanding()
    })
  }

  async check(): Promise<void> {
    await this.#doing('check', async () => {
      this.checked = await this.#backend.checkLogbook()
    })
  }

  async backUp(): Promise<void> {
    await this.#doing('back_up', async () => {
      await this.#backend.backUp()
      this.isBackedUp = true
    })
  }

  /** Without a name an empty logbook is begun. */
  async restore(backup: string | null): Promise<void> {
    await this.#doing('restore', async () => {
      this.aside = await this.#backend.restoreBackup(backup)
    })
  }

  async takeOut(format: OutFormat): Promise<void> {
    await this.#doing('out', async () => {
      const { ending, type } = FILES[format]
      const name = `windfall-${this.#device.clock.wall().slice(0, 10)}.${ending}`
      const content = new Blob([await this.#backend.takeOut(format, !this.withMaps)], { type })
      const how = await this.#device.sharing.file(content, name)
      this.left = how === 'kept' ? null : { name, how }
    })
  }

  async putIn(file: File, into: string | null = null): Promise<void> {
    this.#waiting = null
    await this.#doing('in', async () => {
      this.share = 0
      const coming = await bring(this.#backend, file, (share) => (this.share = share))
      const came = await this.#backend.putIn(coming, file.name, into)
      if (came.kind === 'places') {
        this.#flights = (await this.#backend.listLog('', '')).toReversed()
        this.#most = SHOWN_FIRST
        this.#waiting = file
      }
      this.came = came
    })
  }

  /** The flight is known to which the places of a file belong. */
  async into(flight: string): Promise<void> {
    if (this.#waiting) await this.putIn(this.#waiting, flight)
  }

  /** Flights to which the places of a file may belong, the latest first. */
  get choices(): FlightRow[] {
    return this.#waiting ? this.#flights.slice(0, this.#most) : []
  }

  get hasEarlier(): boolean {
    return this.#waiting !== null && this.#flights.length > this.#most
  }

  showEarlier(): void {
    this.#most = Infinity
  }

  /** One thing after the other; what was said of the one before goes. */
  async #doing(what: NonNullable<Safe['busy']>, act: () => Promise<void>): Promise<void> {
    if (this.busy) return
    this.busy = what
    this.checked = this.left = this.came = null
    this.aside = null
    this.isBackedUp = false
    await this.attempt(act)
    const { trouble } = this
    await this.open()
    // How it stands is said either way; of two troubles the first.
    this.trouble = trouble ?? this.trouble
    this.busy = null
  }
}
