import { createContext } from 'svelte'
import { MediaQuery } from 'svelte/reactivity'
import type { Axis } from './lib/device/orientation'
import { presetUnit, UNITS_OF, type Quantity, type Unit, type Units } from './lib/units'
import { language, LANGUAGES, type Language } from './lib/words/language.svelte'

/** What the flyer likes, kept on this device. */
export class Settings {
  units = $state<Units>('metric')
  /** Units of a quantity that differ from the preset's. */
  #own = $state.raw<Partial<Record<Quantity, Unit>>>({})
  /** What stands on the labels. */
  phone = $state('')
  /** What the flyer points with. */
  axis = $state<Axis>('rear camera')
  /** What the flyer's altimeter shows. */
  altimeter = $state<'m' | 'ft'>('m')
  /** Null follows the system. */
  #look = $state<'light' | 'dark' | null>(null)
  readonly #systemDark = new MediaQuery('(prefers-color-scheme: dark)')

  constructor() {
    const kept = read()
    this.units = kept.units === 'imperial' || kept.units === 'metric' ? kept.units : unitsHere()
    this.#own = typeof kept.own === 'object' && kept.own !== null ? ownOf(kept.own) : ownHere()
    if (typeof kept.phone === 'string') this.phone = kept.phone
    if (kept.axis === 'top edge') this.axis = 'top edge'
    this.altimeter = kept.altimeter === 'ft' || (kept.altimeter !== 'm' && this.units === 'imperial') ? 'ft' : 'm'
    language.now = kept.language === 'es' || kept.language === 'en' ? kept.language : ofThisDevice()
    language.stretched = kept.language === 'stretched'
    if (kept.look === 'light' || kept.look === 'dark') this.#look = kept.look
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
    this.units = this.units === 'metric' ? 'imperial' : 'metric'
    this.#own = {}
    this.#keep()
  }

  /** The unit of a quantity: the flyer's own, or the preset's. */
  unit(quantity: Quantity): Unit {
    return this.#own[quantity] ?? presetUnit(quantity, this.units)
  }

  chooseUnit(quantity: Quantity, unit: Unit): void {
    this.#own = { ...this.#own, [quantity]: unit }
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
    try {
      localStorage.setItem(KEY, JSON.stringify({ units: this.units, own: this.#own, phone: this.phone, axis: this.axis, altimeter: this.altimeter, language: language.stretched ? 'stretched' : language.now, look: this.#look }))
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

function read(): { units?: unknown; own?: unknown; phone?: unknown; look?: unknown; axis?: unknown; altimeter?: unknown; language?: unknown } {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(KEY) ?? '{}')
    return typeof kept === 'object' && kept !== null ? kept : {}
  } catch {
    return {}
  }
}

/** The settings of this page. Reading them outside the app throws. */
export const [settingsHere, setSettingsHere] = createContext<Settings>()
