import type { PickUpWalk } from '../../lib/backend/calm'

/** What waits at one place of the round. */
export interface Stop {
  flight: string
  part: string
}

/** A pick-up round that is walked: its order and its cautions stay as the core gave them when it began. */
export class PickUpRound {
  walk = $state.raw<PickUpWalk | null>(null)
  /** Legs that are behind: found, or left for later. */
  done = $state.raw<readonly number[]>([])
  /** What somebody walks to now. */
  #now: Stop | null = null

  begin(walk: PickUpWalk): void {
    this.walk = walk
    this.done = []
    this.#now = null
  }

  end(): void {
    this.walk = this.#now = null
  }

  /** Which leg comes next; null when the round is done. */
  get next(): number | null {
    const legs = this.walk?.round.legs ?? []
    const at = legs.findIndex((_, index) => !this.done.includes(index))
    return at < 0 ? null : at
  }

  walkTo(stop: Stop): void {
    this.#now = stop
  }

  /** Whatever was walked to is found or left: whether the round goes on from there. */
  arrived(flight: string | null): boolean {
    const { walk } = this
    const now = this.#now
    if (!walk || !now || now.flight !== flight) return false
    const at = walk.round.legs.findIndex(({ place }) => walk.waiting[place]?.flight === now.flight && walk.waiting[place]?.part === now.part)
    if (at >= 0 && !this.done.includes(at)) this.done = [...this.done, at]
    this.#now = null
    return true
  }
}
