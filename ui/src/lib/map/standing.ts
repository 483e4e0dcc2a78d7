import type { Size } from 'ol/size'
import Feature from 'ol/Feature'
import Point from 'ol/geom/Point'
import VectorLayer from 'ol/layer/Vector'
import type OlMap from 'ol/Map'
import VectorSource from 'ol/source/Vector'
import Icon from 'ol/style/Icon'
import Style from 'ol/style/Style'
import type { Box } from './labels'

/** Where things stand on the map, in points of its sheet; those that show nothing are left out. */
export function boxesOn(map: OlMap, standing: readonly Element[]): Box[] {
  const sheet = map.getTargetElement()?.getBoundingClientRect()
  if (!sheet) return []
  return standing.flatMap((element): Box[] => {
    const { left, top, width, height } = element.getBoundingClientRect()
    return width === 0 || height === 0 ? [] : [[left - sheet.left, top - sheet.top, left - sheet.left + width, top - sheet.top + height]]
  })
}

/** Room around what stands on the map, in dots of the screen. */
const MARGIN_PX = 4

/** Labels keep out of it: it is drawn first, and shows nothing. */
function blank([width = 1, height = 1]: Size): Icon {
  const canvas = document.createElement('canvas')
  canvas.width = Math.max(1, Math.ceil(width))
  canvas.height = Math.max(1, Math.ceil(height))
  return new Icon({ img: canvas, declutterMode: 'obstacle' })
}

/**
 * A layer that keeps labels from under the buttons, the scale and whatever else stands on the map.
 *
 * `standing`: what stands there now.
 */
export function standingOn(map: OlMap, standing: () => Element[]): { layer: VectorLayer; again: () => void } {
  const source = new VectorSource()
  const layer = new VectorLayer({ source, declutter: true, zIndex: 100 })
  const again = () => {
    source.clear()
    for (const [left, top, right, bottom] of boxesOn(map, standing())) {
      const at = map.getCoordinateFromPixel([(left + right) / 2, (top + bottom) / 2]) as number[] | null
      if (!at) continue
      const feature = new Feature(new Point(at))
      feature.setStyle(new Style({ image: blank([right - left + 2 * MARGIN_PX, bottom - top + 2 * MARGIN_PX]) }))
      source.addFeature(feature)
    }
  }
  return { layer, again }
}
