import type OlMap from 'ol/Map'
import { createContext } from 'svelte'

/** Calls `act` once the map is drawn, and whenever it has come to rest. Returns what ends it. */
export function atRest(map: OlMap, act: () => void): () => void {
  // A map that is drawn once and not moved never says that it came to rest.
  const first = () => {
    if (!map.isRendered()) return
    map.un('postrender', first)
    act()
  }
  if (map.isRendered()) act()
  else map.on('postrender', first)
  map.on('moveend', act)
  return () => {
    map.un('postrender', first)
    map.un('moveend', act)
  }
}

/** What stands on a map: its own buttons and scale, and what the screen puts there. */
export const standingOnSheet = (map: OlMap): Element[] => {
  const board = map.getTargetElement()?.parentElement
  return [...(board?.parentElement?.querySelectorAll(':scope > button, .map > :not(.sheet, .cross)') ?? [])]
}

/** The map that layers belong to. Reading it outside a map throws. */
export const [mapOfThisSheet, setMapOfThisSheet] = createContext<OlMap>()
