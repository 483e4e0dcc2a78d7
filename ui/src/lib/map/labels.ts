/** Left, top, right and bottom in points of the screen. */
export type Box = readonly [left: number, top: number, right: number, bottom: number]

/** A sign on the map and the name that belongs to it. */
export interface Sign {
  /** Middle of the sign, points of the screen. */
  at: readonly [across: number, down: number]
  /** Half as wide and high as the sign. */
  half: number
  /** How wide and high the name is. */
  width: number
  height: number
}

/** Between a sign and its name, and between two names, points of the screen. */
const GAP = 4

const boxAbout = ([across, down]: readonly [number, number], width: number, height: number): Box => [across - width / 2, down - height / 2, across + width / 2, down + height / 2]

function shared(a: Box, b: Box): number {
  const across = Math.min(a[2], b[2]) - Math.max(a[0], b[0])
  const down = Math.min(a[3], b[3]) - Math.max(a[1], b[1])
  return across > 0 && down > 0 ? across * down : 0
}

/** Sides of a sign, the better ones first: beside it a name is read at once with it. */
const SIDES: readonly (readonly [across: number, down: number])[] = [[1, 0], [-1, 0], [0, -1], [0, 1], [1, -1], [-1, -1], [1, 1], [-1, 1]]

/** Where a name may stand: on each side of its sign, moved along the sign as far as the sheet asks for. */
function placesOf(sign: Sign, sheet: Box): Box[] {
  const [across, down] = sign.at
  return SIDES.map(([right, below]) => {
    const out = sign.half + GAP
    // A name in a corner stands above or below, and begins beside the middle of its sign.
    const x = across + right * (below === 0 ? out + sign.width / 2 : sign.width / 2)
    const y = down + below * (out + sign.height / 2)
    const moved = (middle: number, long: number, from: number, to: number) => Math.min(Math.max(middle, from + long / 2), to - long / 2)
    return boxAbout(below === 0 ? [x, moved(y, sign.height, sheet[1], sheet[3])] : [moved(x, sign.width, sheet[0], sheet[2]), y], sign.width, sign.height)
  })
}

/**
 * Where each name stands: inside the sheet, beside its sign, and off the other names, the other signs and what is `taken`,
 * as far as there is room; where there is not, where it covers least. Returns the middle of each name.
 */
export function placeNames(signs: readonly Sign[], sheet: Box, taken: readonly Box[] = []): [across: number, down: number][] {
  const own = signs.map((sign) => boxAbout(sign.at, 2 * sign.half, 2 * sign.half))
  const places = signs.map((sign, index) =>
    placesOf(sign, sheet).map((box, rank) => {
      const outside = (box[2] - box[0]) * (box[3] - box[1]) - shared(box, sheet)
      const covered = [...taken, ...own.filter((_, other) => other !== index)].reduce((sum, it) => sum + shared(box, it), 0)
      // Of places with as much room the better side; a letter cut off is worse than one covered.
      return { box, cost: 4 * outside + covered + rank }
    }),
  )
  let best: { cost: number; boxes: Box[] } = { cost: Infinity, boxes: [] }
  const look = (index: number, cost: number, boxes: Box[]) => {
    if (cost >= best.cost) return
    const own = places[index]
    if (!own) {
      best = { cost, boxes }
      return
    }
    for (const place of own.toSorted((a, b) => a.cost - b.cost)) {
      const [left, top, right, bottom] = place.box
      const roomy: Box = [left - GAP, top - GAP, right + GAP, bottom + GAP]
      look(index + 1, cost + place.cost + 3 * boxes.reduce((sum, it) => sum + shared(roomy, it), 0), [...boxes, place.box])
    }
  }
  look(0, 0, [])
  return best.boxes.map(([left, top, right, bottom]) => [(left + right) / 2, (top + bottom) / 2])
}
