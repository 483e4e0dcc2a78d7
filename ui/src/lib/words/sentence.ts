import { say, partName, type WordKey } from '.'
import type { Sentence } from '../backend/generated'
import { decimal, distance, joined, measured, plain } from '../units'
import { reading, unitOf } from '../units/reading.svelte'

type Figure = Extract<Sentence[keyof Sentence] | Sentence | Sentence[] | string[] | number | null, unknown>

/** A sentence of the core in the flyer's language and units. */
export function inWords(sentence: Sentence): string {
  if (sentence.say === 'out_of_range') return outOfRange(sentence)
  const figures = Object.entries(sentence).filter(([name]) => name !== 'say') as [string, Figure][]
  return say(`core.${sentence.say}`, Object.fromEntries(figures.map(([name, figure]) => [name, spoken(name, figure)])))
}

// The name of a figure ends in its unit, as in the core, and so says how it is spoken there too.
function spoken(name: string, figure: Figure): string | number {
  if (figure === null) return ''
  if (typeof figure === 'string') return name === 'part' ? partName(figure) : figure
  if (Array.isArray(figure)) return listed(figure.map((it) => (typeof it === 'string' ? partName(it) : inWords(it))))
  // What may be missing brings its own space.
  if (typeof figure === 'object') return name === 'by' || name === 'when' ? ` ${inWords(figure)}` : inWords(figure)
  if (name === 'compass_deg') return say(`toward.${WINDS[Math.floor(((((figure + 22.5) % 360) + 360) % 360) / 45)] ?? 'n'}`)
  if (name === 'tilt_deg') return decimal(figure)
  if (name === 'latitude' || name === 'longitude') return String(figure)
  if (name === 'percent') return percent(figure)
  if (name.startsWith('share')) return percent(100 * figure)
  if (name.startsWith('p_')) return counted(figure)
  if (name.endsWith('_mps')) return joined(measured(figure, unitOf('speed')))
  if (name.endsWith('_mm')) return joined(measured(figure, unitOf('size')))
  if (name.endsWith('_m')) return joined(distance(figure, reading.units))
  if (name.endsWith('_s')) return `${String(Math.round(figure))}\u00a0s`
  if (name.endsWith('_deg')) return String(Math.round(figure))
  // A count stays a number: words for one and for many go by it.
  return Number.isInteger(figure) ? figure : plain(figure)
}

const WINDS = ['n', 'ne', 'e', 'se', 's', 'sw', 'w', 'nw'] as const

const percent = (figure: number) => `${figure < 0.95 ? decimal(figure) : String(Math.round(figure))}\u00a0%`

/** A chance as so many of ten, near the ends of a hundred; never none or all, for nothing here is certain. */
export function counted(probability: number): string {
  if (!(probability >= 0.005)) return say('chance.under', { count: 1, all: 100 })
  if (probability > 0.995) return say('chance.over', { count: 99, all: 100 })
  const all = probability < 0.095 || probability >= 0.945 ? 100 : 10
  return say('chance.counted', { count: Math.round(probability * all), all })
}

function listed(all: string[]): string {
  const last = all.at(-1) ?? ''
  return all.length > 1 ? say('list.and', { rest: all.slice(0, -1).join(', '), last }) : last
}

function outOfRange({ value, low, high, unit }: Extract<Sentence, { say: 'out_of_range' }>): string {
  const quantity = QUANTITIES[unit]
  const shown = (it: number) => {
    if (unit === 'm') return joined(distance(it, reading.units))
    if (unit === 'degrees') return `${plain(it)}°`
    return quantity ? joined(measured(it, unitOf(quantity))) : `${plain(it)}${unit ? `\u00a0${unit}` : ''}`
  }
  return say('core.out_of_range', { value: shown(value), low: shown(low), high: shown(high), unit: '' })
}

const QUANTITIES: Partial<Record<string, 'speed' | 'mass' | 'size' | 'temperature'>> = {
  'm/s': 'speed',
  g: 'mass',
  mm: 'size',
  'degrees Celsius': 'temperature',
}

// Fields of the flight file that a screen fills in, by the last name of their place.
const FIELDS: Partial<Record<string, WordKey>> = {
  motor: 'refused.motor',
  dry_mass_g: 'refused.mass',
  mass_g: 'refused.mass',
  'recovery.diameter_mm': 'refused.device',
  'recovery.length_mm': 'refused.device',
  'recovery.width_mm': 'refused.device',
  spill_hole_mm: 'refused.hole',
  diameter_mm: 'refused.width',
  length_mm: 'refused.length',
  name: 'refused.name',
  part: 'refused.part',
  speed_mps: 'refused.wind',
  wind_limit_mps: 'refused.wind',
  wind: 'refused.wind',
  gust_mps: 'refused.gust',
  bearing_deg: 'refused.direction',
  from_deg: 'refused.direction',
  lat: 'refused.place',
  lon: 'refused.place',
  at: 'refused.place',
  from: 'refused.place',
  about: 'refused.place',
  apogee_m: 'refused.height',
  temperature_c: 'refused.temperature',
  t_s: 'refused.time',
  file: 'refused.file',
  'field file': 'refused.file',
  format: 'refused.file',
}

/** Why something was refused, in the flyer's language and units: which field, and what is allowed. */
export function refusalInWords(message: string, said: Sentence | undefined, field: string | undefined): string {
  if (!said) return say('refused.untold', { message })
  const names = field?.replace(/\[\d+\]/g, '').split('.') ?? []
  const key = FIELDS[names.slice(-2).join('.')] ?? FIELDS[names.at(-1) ?? '']
  return key ? say('refused.named', { field: say(key), why: inWords(said) }) : inWords(said)
}

