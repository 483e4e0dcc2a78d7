import { presetUnit, type Quantity, type Unit, type Units } from '.'

/** In which units the flyer reads; whatever is said changes with it. `own`: units that differ from the preset's. */
export const reading = $state<{ units: Units; own: Partial<Record<Quantity, Unit>> }>({ units: 'metric', own: {} })

/** The unit of a quantity: the flyer's own, or the preset's. */
export const unitOf = (quantity: Quantity): Unit => reading.own[quantity] ?? presetUnit(quantity, reading.units)
