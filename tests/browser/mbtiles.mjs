// A small MBTiles file, written byte by byte: two tables, each on one page. SQLite file format 3, sections 1.3 (header),
// 1.6 (table leaf pages), 2.1 (records); MBTiles 1.3.
const PAGE = 32768

const varint = (number) => {
  const bytes = [number & 127]
  for (let rest = Math.floor(number / 128); rest > 0; rest = Math.floor(rest / 128)) bytes.unshift((rest & 127) | 128)
  return Buffer.from(bytes)
}

/** A row of integers, texts and bytes. */
function record(values) {
  const [types, bodies] = [[], []]
  for (const value of values) {
    if (typeof value === 'number') {
      const body = Buffer.alloc(4)
      body.writeInt32BE(value)
      types.push(varint(4))
      bodies.push(body)
    } else {
      const body = Buffer.from(value)
      types.push(varint((typeof value === 'string' ? 13 : 12) + 2 * body.length))
      bodies.push(body)
    }
  }
  const head = Buffer.concat(types)
  return Buffer.concat([varint(head.length + 1), head, ...bodies])
}

/** A leaf page of a table; the first page of a file has the header of the file before it. */
function leaf(rows, header = Buffer.alloc(0)) {
  const page = Buffer.alloc(PAGE)
  header.copy(page)
  let end = PAGE
  const at = header.length
  rows.forEach((row, index) => {
    const body = record(row)
    const cell = Buffer.concat([varint(body.length), varint(index + 1), body])
    end -= cell.length
    cell.copy(page, end)
    page.writeUInt16BE(end, at + 8 + 2 * index)
  })
  page.writeUInt8(0x0d, at)
  page.writeUInt16BE(rows.length, at + 3)
  page.writeUInt16BE(end, at + 5)
  return page
}

/** A file with `metadata` ([name, value]) and `tiles` ([zoom, column, row from the south, bytes]). */
export function mbtiles(metadata, tiles) {
  const header = Buffer.alloc(100)
  header.write('SQLite format 3\0', 0, 'latin1')
  header.writeUInt16BE(PAGE, 16)
  header.set([1, 1, 0, 64, 32, 32], 18)
  for (const [at, value] of [[24, 1], [28, 3], [40, 1], [44, 4], [56, 1], [68, 0x4d504258], [92, 1], [96, 3045000]]) header.writeUInt32BE(value, at)
  const schema = [
    ['table', 'metadata', 'metadata', 2, 'CREATE TABLE metadata (name text, value text)'],
    ['table', 'tiles', 'tiles', 3, 'CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob)'],
  ]
  return Buffer.concat([leaf(schema, header), leaf(metadata), leaf(tiles)])
}

/** The tile of a zoom that holds a place: [column, row from the south] (spherical Mercator). */
export function tileOf({ lat, lon }, zoom) {
  const wide = 2 ** zoom
  const column = Math.floor(((lon + 180) / 360) * wide)
  const row = Math.floor((0.5 - Math.asinh(Math.tan((lat * Math.PI) / 180)) / (2 * Math.PI)) * wide)
  return [column, wide - 1 - row]
}
