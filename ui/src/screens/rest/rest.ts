import type { WalkStep } from '../../lib/backend'
import type { Answer, Flight, LatLon, PartAnswer, Region } from '../../lib/backend/generated'
import { partName } from '../../lib/words'
import type { Finding } from '../recover/find.svelte'

/** What is known of what is missing, once a part is in the hand. */
export interface Rest {
  /** Name of the part in hand. */
  inHand: string
  /** How far and which way from the pad it lay. */
  from_pad: WalkStep | null
  answer: Answer
  /** The missing part that is looked for next. */
  part: PartAnswer
  /** Where that was thought to be before the find. */
  before: readonly Region[]
}

/** What was picked up, and where it lay. */
export const foundIn = (flight: Flight): { at: LatLon; name: string }[] =>
  flight.evidence.flatMap((it) => (it.kind === 'find' && !it.set_aside ? [{ at: it.at, name: partName(it.part) }] : []))

/** The rest after a find; null if nothing is missing any more. `found` names every part in hand. */
export function restOf(finding: Finding, found: readonly string[]): Rest | null {
  const { answer, inHand, from_pad } = finding
  const part = answer?.parts.find((it) => !found.includes(it.part))
  if (!answer || inHand === null || !part) return null
  return { inHand, from_pad, answer, part, before: finding.saidOf(part.part)?.regions ?? [] }
}
