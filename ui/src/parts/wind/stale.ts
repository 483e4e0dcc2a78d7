import type { Day } from '../../lib/backend/calm'

/** So old, a reading of the wind is asked after before the next flight, ms. Judgement. */
const STALE_MS = 10 * 60_000

/** Whether the last word about the wind is so old that it is asked again; of a day with none there is nothing to ask after. */
export function isStale(day: Day, now: string): boolean {
  const at = day.wind.at(-1)?.at
  return typeof at === 'string' && Date.parse(now) - Date.parse(at) > STALE_MS
}
