import { expect, test } from 'vitest'
import { fakeDensity } from '../backend/fake'
import { decodeDensity, densityExtent, washOf } from './density'
import { Ground } from './ground'

function bytesOf(width: number, height: number, cell_m: number, west_m: number, south_m: number, values: number[]): ArrayBuffer {
  const bytes = new ArrayBuffer(16 + values.length)
  const head = new DataView(bytes)
  head.setUint16(0, width, true)
  head.setUint16(2, height, true)
  ;[cell_m, west_m, south_m].forEach((value, i) => {
    head.setFloat32(4 + 4 * i, value, true)
  })
  new Uint8Array(bytes, 16).set(values)
  return bytes
}

test('a_density_is_read_little_endian_and_lies_where_its_edges_say', () => {
  const density = decodeDensity(bytesOf(3, 2, 2.5, -10, 40, [0, 1, 2, 253, 254, 255]))
  expect([density.width, density.height]).toEqual([3, 2])
  expect(densityExtent(density)).toEqual([-10, 40, -2.5, 45])
  expect([...density.values]).toEqual([0, 1, 2, 253, 254, 255])
})

test('a_density_of_the_wrong_length_or_with_a_broken_header_is_refused', () => {
  expect(() => decodeDensity(new ArrayBuffer(15))).toThrow('15 bytes')
  expect(() => decodeDensity(bytesOf(3, 2, 2.5, 0, 0, [1, 2, 3]))).toThrow('3 x 2')
  expect(() => decodeDensity(bytesOf(1, 1, NaN, 0, 0, [1]))).toThrow('finite')
  expect(() => decodeDensity(bytesOf(1, 1, 0, 0, 0, [1]))).toThrow('above zero')
  expect(() => decodeDensity(bytesOf(0, 0, 1, 0, 0, []))).toThrow()
})

test('the_wash_is_one_ink_that_thickens_with_the_chance', () => {
  const rgba = washOf(decodeDensity(bytesOf(3, 1, 1, 0, 0, [0, 15, 255])), [9, 8, 7], 0.4)
  expect([...rgba]).toEqual([9, 8, 7, 0, 9, 8, 7, 0, 9, 8, 7, 102])
})

test('the_invented_density_is_one_that_can_be_read', () => {
  expect(decodeDensity(fakeDensity('rocket', null)).values.length).toBe(96 * 80)
})

// Length of a degree on WGS 84, published in many tables (values from memory, to the metre):
// latitude 0: 110 574 and 111 320; 45: 111 132 and 78 847; 60: 111 412 and 55 800.
test.each([
  [0, 110_574, 111_320],
  [45, 111_132, 78_847],
  [60, 111_412, 55_800],
])('a_degree_at_latitude_%d_is_as_long_as_tables_say', (lat, north_m, east_m) => {
  const ground = new Ground({ lat, lon: 10 })
  expect(Math.abs(ground.place({ lat: lat + 1, lon: 10 })[1] - north_m)).toBeLessThan(1)
  expect(Math.abs(ground.place({ lat, lon: 11 })[0] - east_m)).toBeLessThan(1)
})

test('geojson_has_longitude_first', () => {
  const ground = new Ground({ lat: 45, lon: 10 })
  const extent = ground.geometry({ type: 'LineString', coordinates: [[10, 45], [10.001, 45.002]] })?.getExtent() ?? []
  const [east_m, north_m] = ground.place({ lat: 45.002, lon: 10.001 })
  expect(extent).toEqual([0, 0, east_m, north_m])
})

test('what_is_no_geometry_is_not_drawn', () => {
  const ground = new Ground({ lat: 45, lon: 10 })
  expect(ground.geometry(null)).toBeNull()
  expect(ground.geometry({ type: 'Cube' })).toBeNull()
  expect(ground.geometry('Point')).toBeNull()
})
