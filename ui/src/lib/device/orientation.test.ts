import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { pointed, type Axis, type DeviceAngles } from './orientation'

const AXES: readonly Axis[] = ['rear camera', 'top edge', 'ahead']

/** For what is exact but for rounding. */
const ROUNDING_DEG = 1e-9

/** A table below `tests/reference`, refused as the reader of the Rust tests refuses it. */
function openTable(name: string) {
  const text = readFileSync(new URL(`../../../../tests/reference/${name}`, import.meta.url), 'utf8')
  return parseTable(text)
}

function parseTable(text: string) {
  const lines = text.trimEnd().split('\n')
  const header = lines.filter((line) => line.startsWith('#'))
  const entries = (key: string) =>
    header.filter((line) => line.startsWith(`# ${key}: `)).map((line) => line.slice(key.length + 4))
  if (entries('Source').length !== 1 || entries('Mark').length !== 1) throw new Error('source and mark, once each')
  const [names = '', ...body] = lines.slice(header.length)
  const columns = names.split(',')
  const rows = body.map((line) => {
    const cells = line.split(',')
    if (cells.length !== columns.length) throw new Error(`cells missing: ${line}`)
    return (column: string) => {
      const cell = cells[columns.indexOf(column)] ?? ''
      const value = cell.trim() === '' ? NaN : Number(cell)
      if (!Number.isFinite(value)) throw new Error(`${column} is no number: ${line}`)
      return value
    }
  })
  if (entries('Rows').join() !== String(rows.length)) throw new Error('rows announced and there differ')
  const tolerance = (column: string) => {
    const found = entries('Tolerance').map((entry) => /^(\S+) (\S+), .+$/.exec(entry)).find((entry) => entry?.[1] === column)
    if (!found) throw new Error(`no tolerance for ${column}`)
    return Number(found[2])
  }
  return { rows, tolerance }
}

/** Distance on the circle; a NaN stays one, and no comparison below lets it pass. */
function apart_deg(one: number | null | undefined, other: number): number {
  const turn = ((((one ?? NaN) - other + 180) % 360) + 360) % 360
  return Math.abs(turn - 180)
}

/** Attitudes all over, none of them on a special angle. */
function attitudes(): { alpha: number; beta: number; gamma: number }[] {
  const all = []
  for (let alpha = 1.3; alpha < 360; alpha += 37.1) {
    for (let beta = -178.7; beta < 180; beta += 29.3) {
      for (let gamma = -88.9; gamma < 90; gamma += 17.7) all.push({ alpha, beta, gamma })
    }
  }
  return all
}

/** East, north, up. */
function direction(angles: DeviceAngles, axis: Axis, screen_deg?: number): [number, number, number] {
  const at = pointed(angles, axis, screen_deg)
  const bearing = ((at?.bearing_deg ?? NaN) * Math.PI) / 180
  const elevation = ((at?.elevation_deg ?? NaN) * Math.PI) / 180
  return [Math.sin(bearing) * Math.cos(elevation), Math.cos(bearing) * Math.cos(elevation), Math.sin(elevation)]
}

// Source: W3C, Device Orientation and Motion, Appendix A.1; more in the header of the table.
test('the_rear_camera_points_where_the_w3c_table_says', () => {
  const { rows, tolerance } = openTable('w3c/phone_orientation.csv')
  const worst = { heading_deg: 0, elevation_deg: 0 }
  let seen = 0
  for (const row of rows) {
    const at = pointed({ alpha: row('alpha_deg'), beta: row('beta_deg'), gamma: row('gamma_deg') }, 'rear camera')
    // Math.max hands a NaN on.
    worst.heading_deg = Math.max(worst.heading_deg, apart_deg(at?.bearing_deg, row('heading_deg')))
    worst.elevation_deg = Math.max(worst.elevation_deg, apart_deg(at?.elevation_deg, row('elevation_deg')))
    seen += 1
  }
  expect(seen).toBe(16)
  expect(worst.heading_deg).toBeLessThanOrEqual(tolerance('heading_deg'))
  expect(worst.elevation_deg).toBeLessThanOrEqual(tolerance('elevation_deg'))
})

test('a_table_without_its_header_or_a_residual_that_is_no_number_is_refused', () => {
  const small = '# Source: none\n# Mark: GEN\n# Rows: 2\n# Tolerance: a 0.1, why not\na,b\n1,x\n359.95,\n'
  expect(parseTable(small).rows).toHaveLength(2)
  expect(parseTable(small).tolerance('a')).toBe(0.1)
  for (const there of ['# Source: none\n', '# Mark: GEN\n', '# Rows: 2\n', '1,x\n', ',x']) {
    expect(() => parseTable(small.replace(there, '')), there).toThrow()
  }
  expect(() => parseTable(small.replace(', why not', '')).tolerance('a')).toThrow('tolerance')
  expect(() => parseTable(small).rows[1]?.('b')).toThrow('no number')
  expect(apart_deg(359.95, 0.05)).toBeCloseTo(0.1, 9)
  expect(apart_deg(null, 0)).toBeNaN()
  expect(() => { expect(Math.max(0, apart_deg(NaN, 0), 0)).toBeLessThanOrEqual(1) }).toThrow()
})

// Source: the same, Introduction: flat on a table the heading of the top is 360 - alpha; upright with the top to the
// right, seen by who looks at the screen, alpha is 270 - heading and gamma 90.
test('the_top_edge_of_a_flat_phone_points_at_360_minus_alpha', () => {
  for (let alpha = 0; alpha <= 360; alpha += 7.5) {
    const at = pointed({ alpha, beta: 0, gamma: 0 }, 'top edge')
    expect(apart_deg(at?.bearing_deg, 360 - alpha)).toBeLessThan(ROUNDING_DEG)
    expect(apart_deg(at?.elevation_deg, 0)).toBeLessThan(ROUNDING_DEG)
  }
})

test('on_an_upright_phone_with_its_top_to_the_right_the_camera_looks_ahead_and_the_top_of_the_picture_is_up', () => {
  for (let heading = 0; heading < 360; heading += 15) {
    const angles = { alpha: 270 - heading, beta: 0, gamma: 90 }
    expect(apart_deg(pointed(angles, 'rear camera')?.bearing_deg, heading)).toBeLessThan(ROUNDING_DEG)
    expect(apart_deg(pointed(angles, 'top edge')?.bearing_deg, heading + 90)).toBeLessThan(ROUNDING_DEG)
    // Turned clockwise, the screen says 270.
    const top = pointed(angles, 'top edge', 270)
    expect(top?.bearing_deg).toBeNull()
    expect(apart_deg(top?.elevation_deg, 90)).toBeLessThan(ROUNDING_DEG)
  }
})

// Source: W3C, Screen Orientation, note to angle: turned 90 degrees counterclockwise, the angle is 90.
test('turning_a_flat_phone_under_its_picture_leaves_the_top_of_the_picture_where_it_was', () => {
  for (const turn of [0, 90, 180, 270]) {
    const at = pointed({ alpha: 20 + turn, beta: 0, gamma: 0 }, 'top edge', turn)
    expect(apart_deg(at?.bearing_deg, 340)).toBeLessThan(ROUNDING_DEG)
  }
})

test('a_turn_of_the_screen_does_not_move_the_camera', () => {
  for (const angles of attitudes()) {
    expect(pointed(angles, 'rear camera', 90)).toEqual(pointed(angles, 'rear camera'))
  }
})

test('turning_alpha_turns_the_bearing_back_and_leaves_the_elevation', () => {
  for (const axis of AXES) {
    for (const angles of attitudes()) {
      for (const turn of [-200, -0.25, 63, 360]) {
        const before = pointed(angles, axis)
        const after = pointed({ ...angles, alpha: angles.alpha + turn }, axis)
        expect(apart_deg(after?.bearing_deg, (before?.bearing_deg ?? NaN) - turn)).toBeLessThan(ROUNDING_DEG)
        expect(apart_deg(after?.elevation_deg, before?.elevation_deg ?? NaN)).toBeLessThan(ROUNDING_DEG)
      }
    }
  }
})

test('the_camera_and_the_top_edge_stay_at_a_right_angle', () => {
  for (const angles of attitudes()) {
    for (const screen_deg of [0, 90, 180, 270]) {
      const [camera, top] = [direction(angles, 'rear camera'), direction(angles, 'top edge', screen_deg)]
      expect(Math.abs(camera[0] * top[0] + camera[1] * top[1] + camera[2] * top[2])).toBeLessThan(1e-12)
    }
  }
})

// Every attitude has two names; which one a device gives must not matter.
test('the_other_name_of_an_attitude_points_the_same_way', () => {
  for (const axis of AXES) {
    for (const angles of attitudes()) {
      const other = { alpha: angles.alpha + 180, beta: 180 - angles.beta, gamma: angles.gamma + 180 }
      const [one, two] = [pointed(angles, axis), pointed(other, axis)]
      expect(apart_deg(two?.bearing_deg, one?.bearing_deg ?? NaN)).toBeLessThan(ROUNDING_DEG)
      expect(apart_deg(two?.elevation_deg, one?.elevation_deg ?? NaN)).toBeLessThan(ROUNDING_DEG)
    }
  }
})

test('bearings_stay_below_360_and_elevations_within_a_right_angle', () => {
  for (const axis of AXES) {
    for (const angles of [...attitudes(), { alpha: 1e-15, beta: 90, gamma: 0 }, { alpha: 1e-15, beta: 0, gamma: 0 }]) {
      const { bearing_deg, elevation_deg } = pointed(angles, axis) ?? { bearing_deg: NaN, elevation_deg: NaN }
      if (bearing_deg !== null) expect(bearing_deg >= 0 && bearing_deg < 360).toBe(true)
      expect(Math.abs(elevation_deg)).toBeLessThanOrEqual(90)
    }
  }
})

test('straight_up_and_straight_down_have_no_bearing', () => {
  expect(pointed({ alpha: 50, beta: 0, gamma: 0 }, 'rear camera')).toEqual({ bearing_deg: null, elevation_deg: -90 })
  expect(pointed({ alpha: 50, beta: 180, gamma: 0 }, 'rear camera')).toEqual({ bearing_deg: null, elevation_deg: 90 })
  expect(pointed({ alpha: 50, beta: 90, gamma: 0 }, 'top edge')).toEqual({ bearing_deg: null, elevation_deg: 90 })
})

// The heading of both sources holds all the way from flat in the hand to held up before the eyes, and beyond.
test('ahead_is_the_same_way_whether_the_phone_lies_flat_or_is_held_up_whatever_the_screen_shows', () => {
  for (const heading of [0, 75, 210]) {
    for (let beta = -30; beta <= 120; beta += 7.5) {
      expect(apart_deg(pointed({ alpha: 360 - heading, beta, gamma: 0 }, 'ahead')?.bearing_deg, heading)).toBeLessThan(ROUNDING_DEG)
    }
    const [flat, upright] = [{ alpha: 270 - heading, beta: 0, gamma: 0 }, { alpha: 270 - heading, beta: 0, gamma: 90 }]
    for (const angles of [flat, upright]) expect(apart_deg(pointed(angles, 'ahead', 270)?.bearing_deg, heading)).toBeLessThan(ROUNDING_DEG)
  }
})

test('a_reading_without_numbers_points_nowhere', () => {
  const there = { alpha: 10, beta: 20, gamma: 30 }
  for (const axis of AXES) {
    expect(pointed(there, axis)).not.toBeNull()
    expect(pointed({ alpha: null, beta: null, gamma: null }, axis)).toBeNull()
    for (const missing of [null, NaN, Infinity]) {
      for (const angle of ['alpha', 'beta', 'gamma']) expect(pointed({ ...there, [angle]: missing }, axis)).toBeNull()
    }
    expect(pointed(there, axis, NaN)).toBeNull()
  }
})
