/** How the surface of a kind of ground is filled. */
export type Pattern = 'waves' | 'trees' | 'rows' | 'hatch' | 'dots' | 'solid' | 'cross'

const TILE_PX = 14

/** A fill that repeats; drawn at the screen's own resolution so that it stays crisp. */
export function patternFill(pattern: Pattern, ink: string): CanvasPattern | string {
  const ratio = Math.max(1, window.devicePixelRatio)
  const tile = document.createElement('canvas')
  tile.width = tile.height = Math.round(TILE_PX * ratio)
  const pen = tile.getContext('2d')
  if (!pen) return 'transparent'
  const k = tile.width / TILE_PX
  pen.scale(k, k)
  pen.strokeStyle = pen.fillStyle = ink
  pen.lineWidth = 1.4
  DRAW[pattern](pen)
  return pen.createPattern(tile, 'repeat') ?? 'transparent'
}

const DRAW: Record<Pattern, (pen: CanvasRenderingContext2D) => void> = {
  waves: (pen) => {
    for (const y of [3.5, 10.5]) {
      pen.beginPath()
      pen.moveTo(0, y)
      pen.bezierCurveTo(3.5, y - 4, 3.5, y - 4, 7, y)
      pen.bezierCurveTo(10.5, y + 4, 10.5, y + 4, 14, y)
      pen.stroke()
    }
  },
  trees: (pen) => {
    for (const [x, y] of [[3.5, 4], [10.5, 11]] as const) {
      pen.beginPath()
      pen.arc(x, y, 2.6, 0, 2 * Math.PI)
      pen.fill()
    }
  },
  rows: (pen) => {
    pen.beginPath()
    for (const x of [3.5, 10.5]) {
      pen.moveTo(x, 0)
      pen.lineTo(x, 9)
    }
    pen.stroke()
  },
  hatch: (pen) => {
    pen.beginPath()
    for (const shift of [-14, 0, 14]) {
      pen.moveTo(shift, 14)
      pen.lineTo(shift + 14, 0)
    }
    pen.stroke()
  },
  dots: (pen) => {
    for (const [x, y] of [[3.5, 3.5], [10.5, 10.5]] as const) pen.fillRect(x - 1, y - 1, 2.2, 2.2)
  },
  solid: (pen) => {
    pen.fillRect(0, 0, TILE_PX, TILE_PX)
  },
  cross: (pen) => {
    pen.beginPath()
    pen.moveTo(4, 4)
    pen.lineTo(10, 10)
    pen.moveTo(10, 4)
    pen.lineTo(4, 10)
    pen.stroke()
  },
}
