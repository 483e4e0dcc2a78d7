import type { Rocket } from '../../lib/backend/generated'
import { figureOf } from '../../lib/figure'

/** How large something is that lies in the grass, mm; null where nobody told. */
export interface PieceSize {
  length_mm: number | null
  across_mm: number | null
}

/** Names that stages have which nobody named. */
const stageName = (at: number, of: number): string => (of === 1 ? 'rocket' : at === 0 ? 'booster' : 'sustainer')

/** The size of a part or stage of a rocket, as far as somebody told it. */
export function sizeOf(rocket: Rocket, part: string): PieceSize {
  const { stages } = rocket
  for (const [at, stage] of stages.entries()) {
    const across_mm = figureOf(stage.diameter_mm)
    const piece = stage.splits_into.find((it) => it.name === part)
    if (piece) return { length_mm: figureOf(piece.length_mm), across_mm }
    if ((stage.name ?? stageName(at, stages.length)) === part) return { length_mm: figureOf(stage.length_mm), across_mm }
  }
  return { length_mm: null, across_mm: null }
}
