/** A place on the sheet, points of the screen or any other even measure. */
type At = readonly [across: number, down: number]

/** Rounds after which it is as good as it gets: a dozen marks on one spot need fewer. */
const ROUNDS = 200

/**
 * Marks moved apart until none lies nearer than `apart` to another, nor to what stays where it is (`fixed`). What has room
 * stays; marks on one spot go to different sides of it, in their order.
 */
export function spread(marks: readonly At[], apart: number, fixed: readonly At[] = []): [across: number, down: number][] {
  const at = marks.map(([across, down]): [number, number] => [across, down])
  for (let round = 0; round < ROUNDS; round += 1) {
    let moved = false
    const push = (own: [number, number], from: At, turn: number, share: number): [number, number] => {
      const [x, y] = [own[0] - from[0], own[1] - from[1]]
      const far = Math.hypot(x, y)
      if (far >= apart - 0.01) return [0, 0]
      moved = true
      const [east, north] = far > 1e-6 ? [x / far, y / far] : [Math.cos(turn), Math.sin(turn)]
      return [east * (apart - far) * share, north * (apart - far) * share]
    }
    at.forEach((own, index) => {
      for (const other of at.slice(index + 1)) {
        const [x, y] = push(other, own, 2.4 * (index + 1), 0.5)
        other[0] += x
        other[1] += y
        own[0] -= x
        own[1] -= y
      }
      for (const still of fixed) {
        const [x, y] = push(own, still, 2.4 * (index + 1), 1)
        own[0] += x
        own[1] += y
      }
    })
    if (!moved) break
  }
  return at
}
