import type Feature from 'ol/Feature'
import Point from 'ol/geom/Point'
import type OlMap from 'ol/Map'
import Style from 'ol/style/Style'
import type Text from 'ol/style/Text'
import { placeNames, type Box, type Sign } from './labels'
import { boxesOn } from './standing'

/** Half of the largest sign there is, points of the screen. */
const HALF_SIGN = 15
/** A line of a name is so high, and the paper about it so wide, points of the screen. */
const HIGH = 19
const PAPER = 4

const pen = document.createElement('canvas').getContext('2d')

function sized(text: Text): { width: number; height: number } {
  const words = String(text.getText())
  if (pen) pen.font = text.getFont() ?? ''
  return { width: (pen?.measureText(words).width ?? 8 * words.length) + 2 * PAPER, height: HIGH }
}

/** Gives the names of signs their places on the sheet as it is shown now: whole, and apart from one another. */
export function arrangeNames(map: OlMap, features: readonly Feature[], standing: readonly Element[]): void {
  const size = map.getSize()
  if (!size) return
  const found = features.flatMap((feature) => {
    const at = feature.getGeometry()
    const text = [feature.getStyle()].flat().flatMap((style) => (style instanceof Style ? (style.getText() ?? []) : [])).at(-1)
    const pixel = at instanceof Point ? (map.getPixelFromCoordinate(at.getCoordinates()) as number[] | null) : null
    if (!text || !pixel) return []
    const sign: Sign = { at: [pixel[0] ?? 0, pixel[1] ?? 0], half: HALF_SIGN, ...sized(text) }
    return [{ feature, text, sign }]
  })
  const sheet: Box = [0, 0, size[0] ?? 0, size[1] ?? 0]
  // A sign that is moved out of sight takes its name along.
  const seen = found.filter(({ sign: { at } }) => at[0] >= 0 && at[1] >= 0 && at[0] <= sheet[2] && at[1] <= sheet[3])
  const places = placeNames(seen.map((it) => it.sign), sheet, boxesOn(map, standing))
  for (const [index, { feature, text, sign }] of seen.entries()) {
    const [across, down] = places[index] ?? sign.at
    text.setTextAlign('center')
    text.setTextBaseline('middle')
    text.setOffsetX(across - sign.at[0])
    text.setOffsetY(down - sign.at[1])
    feature.changed()
  }
}
