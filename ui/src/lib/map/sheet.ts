import type OlMap from 'ol/Map'
import { createContext } from 'svelte'

/** The map that layers belong to. Reading it outside a map throws. */
export const [mapOfThisSheet, setMapOfThisSheet] = createContext<OlMap>()
