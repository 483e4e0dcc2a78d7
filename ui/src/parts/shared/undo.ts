import type { Happened, StoryLine } from '../../lib/backend/calm'
import { partName, say } from '../../lib/words'

/** What one tap takes back: the fact, and the words that say which one it is. */
export interface Undoable {
  word: string
  said: string
}

/** What was told last of these kinds and still counts. Whatever comes out is named, for it need not be what was tapped last. */
export function lastTold(lines: StoryLine[], whats: Happened[]): Undoable | null {
  const told = lines.flatMap((line) => (line.word !== null && line.set_aside_by === null && whats.includes(line.what) ? [{ ...line, word: line.word }] : []))
  // Identifiers of facts rise with time.
  const last = told.toSorted((a, b) => (a.word < b.word ? -1 : 1)).at(-1)
  if (!last) return null
  const part = partName(last.part ?? 'rocket')
  const key = last.what === 'found' ? 'undo.found' : last.what === 'altimeter' ? 'undo.altimeter' : 'undo.searched'
  return { word: last.word, said: say(key, { part }) }
}
