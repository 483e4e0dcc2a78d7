import { createContext } from 'svelte'
import { MediaQuery } from 'svelte/reactivity'
import type { Backend } from './lib/backend'
import type { Axis } from './lib/device/orientation'
import { UNITS_OF, type Quantity, type Unit, type Units } from './lib/units'
import { reading, unitOf } from './lib/units/reading.svelte'
import { language, LANGUAGES, type Language } from './lib/words/language.svelte'

/** What the flyer likes, kept on this device. */
export class Settings {
  /** What stands on the labels. */
  phone = $state('')
  /** What the flyer points with. */
  axis = $state<Axis>('rear camera')
  /** What the flyer's altimeter shows. */
  altimeter = $state<'m' | 'ft'>('m')
  /** Null follows the system. */
  #look = $state<'light' | 'dark' | null>(null)
  readonly #systemDark = new MediaQuery('(prefers-color-scheme: dark)')

  #keeps: Pick<Backend, 'likes' | 'keepLikes'> | null = null

  constructor() {
    this.#take(read() ?? {})
  }

  /** From here on it is also kept beside the logbook: a page has its own memory, and another one with every address. */
  async keepIn(backend: Pick<Backend, 'likes' | 'keepLikes'>): Promise<void> {
    this.#keeps = backend
    if (read() !== null) return
    try {
      const kept = await backend.likes()
      // Whoever chose meanwhile has chosen.
      if (typeof kept === 'object' && kept !== null && read() === null) this.#take(kept)
    } catch {
      // Without it the device decides, as on the first day.
    }
  }

  #take(kept: Kept): void {
    reading.units = kept.units === 'imperial' || kept.units === 'metric' ? kept.units : unitsHere()
    reading.own = typeof kept.own === 'object' && kept.own !== null ? ownOf(kept.own) : ownHere()
    if (typeof kept.phone === 'string') this.phone = kept.phone
    if (kept.axis === 'top edge') this.axis = 'top edge'
    this.altimeter = kept.altimeter === 'ft' || (kept.altimeter !== 'm' && this.units === 'imperial') ? 'ft' : 'm'
    language.now = kept.language === 'es' || kept.language === 'en' ? kept.language : ofThisDevice()
    language.stretched = kept.language === 'stretched'
    if (kept.look === 'light' || kept.look === 'dark') this.#look = kept.look
  }

  get units(): Units {
    return reading.units
  }

  get dark(): boolean {
    return this.#look ? this.#look === 'dark' : this.#systemDark.current
  }

  switchAxis(): void {
    this.axis = this.axis === 'rear camera' ? 'top edge' : 'rear camera'
    this.#keep()
  }

  showAltimeterIn(unit: 'm' | 'ft'): void {
    this.altimeter = unit
    this.#keep()
  }

  switchLanguage(): void {
    language.now = language.now === 'en' ? 'es' : 'en'
    language.stretched = false
    this.#keep()
  }

  switchUnits(): void {
    reading.units = this.units === 'metric' ? 'imperial' : 'metric'
    reading.own = {}
    this.#keep()
  }

  /** The unit of a quantity: the flyer's own, or the preset's. */
  unit(quantity: Quantity): Unit {
    return unitOf(quantity)
  }

  chooseUnit(quantity: Quantity, unit: Unit): void {
    reading.own = { ...reading.own, [quantity]: unit }
    this.#keep()
  }

  takePhone(phone: string): void {
    this.phone = phone
    this.#keep()
  }

  /** The other look; back with the system as soon as both agree. */
  switchLook(): void {
    const dark = !this.dark
    this.#look = dark === this.#systemDark.current ? null : dark ? 'dark' : 'light'
    this.#keep()
  }

  #keep(): void {
    const kept = { units: this.units, own: reading.own, phone: this.phone, axis: this.axis, altimeter: this.altimeter, language: language.stretched ? 'stretched' : language.now, look: this.#look }
    // What cannot be kept there is kept in the page.
    this.#keeps?.keepLikes(kept).catch(() => undefined)
    try {
      localStorage.setItem(KEY, JSON.stringify(kept))
    } catch {
      // A device that keeps nothing still shows the choice until it is closed.
    }
  }
}

const KEY = 'windfall.settings'

function ofThisDevice(): Language {
  const wanted = navigator.languages.map((it) => it.slice(0, 2)).find((it) => it in LANGUAGES)
  return wanted === 'es' ? 'es' : 'en'
}

const region = () => navigator.language.split('-').at(-1)

/** Feet and miles where people walk in them; from memory. */
const unitsHere = (): Units => (['US', 'LR', 'MM'].includes(region() ?? '') ? 'imperial' : 'metric')

/** Metric, but winds in miles an hour. */
const ownHere = (): Partial<Record<Quantity, Unit>> => (region() === 'GB' ? { speed: 'mph' } : {})

function ownOf(kept: object): Partial<Record<Quantity, Unit>> {
  const known = Object.entries(kept).filter(([quantity, unit]) => quantity in UNITS_OF && (UNITS_OF[quantity as Quantity] as readonly unknown[]).includes(unit))
  return Object.fromEntries(known)
}

interface Kept {
  units?: unknown
  own?: unknown
  phone?: unknown
  look?: unknown
  axis?: unknown
  altimeter?: unknown
  language?: unknown
}

/** Null if nothing was kept in this page. */
function read(): Kept | null {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(KEY) ?? 'null')
    return typeof kept === 'object' ? kept : null
  } catch {
    return null
  }
}

/** The settings of this page. Reading them outside the app throws. */
export const [settingsHere, setSettingsHere] = createContext<Settings>()
