import type { Rocket } from '../../lib/backend/generated'
import { figureOf } from '../../lib/figure'

/** How large something is that lies in the grass, mm; null where nobody told. */
export interface PieceSize {
  length_mm: number | null
  across_mm: number | null
}

/** What the stages are called, from the bottom up: as somebody named them, or as the core does. */
export function stageNames({ stages }: Rocket): string[] {
  const usual = stages.length === 1 ? ['rocket'] : ['booster', 'sustainer']
  return stages.map((stage, at) => stage.name ?? usual[at] ?? '')
}

/** The size of a part or stage of a rocket, as far as somebody told it. */
export function sizeOf(rocket: Rocket, part: string): PieceSize {
  const names = stageNames(rocket)
  for (const [at, stage] of rocket.stages.entries()) {
    const across_mm = figureOf(stage.diameter_mm)
    const piece = stage.splits_into.find((it) => it.name === part)
    if (piece) return { length_mm: figureOf(piece.length_mm), across_mm }
    if (names[at] === part) return { length_mm: figureOf(stage.length_mm), across_mm }
  }
  return { length_mm: null, across_mm: null }
}
