import { expect, test } from 'vitest'
import { placeNames, type Box, type Sign } from './labels'

const SHEET: Box = [0, 0, 390, 300]
const sign = (across: number, down: number, width = 100): Sign => ({ at: [across, down], half: 13, width, height: 20 })
const boxes = (signs: Sign[], taken: Box[] = []): Box[] =>
  placeNames(signs, SHEET, taken).map(([x, y], index) => {
    const { width, height } = signs[index] ?? sign(0, 0)
    return [x - width / 2, y - height / 2, x + width / 2, y + height / 2]
  })
const inside = (box: Box) => box[0] >= SHEET[0] && box[1] >= SHEET[1] && box[2] <= SHEET[2] && box[3] <= SHEET[3]
const apart = (a: Box, b: Box) => a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1]

test('a_name_stands_beside_its_sign_where_there_is_room', () => {
  expect(boxes([sign(200, 150)])).toEqual([[217, 140, 317, 160]])
})

test('at_every_edge_of_the_sheet_a_name_stays_whole', () => {
  for (const [x, y] of [[6, 150], [384, 150], [200, 5], [200, 295], [4, 4], [386, 4], [4, 296], [386, 296]] as const) {
    const [box] = boxes([sign(x, y, 110)])
    expect(box && inside(box), `${String(x)} ${String(y)} ${String(box)}`).toBe(true)
  }
})

test('names_of_signs_close_together_stand_apart_and_off_the_signs', () => {
  // A standing point 30 points from the place to start at, the pad a little below, the walker between: all but in one spot.
  const close = [sign(200, 150, 90), sign(178, 170, 130), sign(182, 196, 80), sign(190, 150, 30)]
  const placed = boxes(close)
  for (const [i, a] of placed.entries()) {
    expect(inside(a)).toBe(true)
    for (const [j, b] of placed.entries()) if (j > i) expect(apart(a, b), `${String(a)} and ${String(b)}`).toBe(true)
  }
  // None of them lies over the sign of another that is clear of its own.
  const [first] = placed
  expect(first && apart(first, [165, 157, 191, 183])).toBe(true)
})

test('what_stands_on_the_map_is_kept_free_of_names', () => {
  const buttons: Box = [330, 100, 390, 250]
  const [box] = boxes([sign(300, 150)], [buttons])
  expect(box && inside(box) && apart(box, buttons)).toBe(true)
})

test('a_name_wider_than_the_sheet_is_still_placed', () => {
  expect(placeNames([sign(200, 150, 500)], SHEET)).toHaveLength(1)
})
