import type { Size } from 'ol/size'
import Feature from 'ol/Feature'
import Point from 'ol/geom/Point'
import VectorLayer from 'ol/layer/Vector'
import type OlMap from 'ol/Map'
import VectorSource from 'ol/source/Vector'
import Icon from 'ol/style/Icon'
import Style from 'ol/style/Style'

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
    const sheet = map.getTargetElement()?.getBoundingClientRect()
    source.clear()
    if (!sheet) return
    for (const element of standing()) {
      const { left, top, width, height } = element.getBoundingClientRect()
      if (width === 0 || height === 0) continue
      const at = map.getCoordinateFromPixel([left - sheet.left + width / 2, top - sheet.top + height / 2]) as number[] | null
      if (!at) continue
      const feature = new Feature(new Point(at))
      feature.setStyle(new Style({ image: blank([width + 2 * MARGIN_PX, height + 2 * MARGIN_PX]) }))
      source.addFeature(feature)
    }
  }
  return { layer, again }
}
