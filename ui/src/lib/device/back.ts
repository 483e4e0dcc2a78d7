/** What of the page the back button works through. */
export type BackPage = Pick<Window, 'history' | 'addEventListener' | 'removeEventListener'>

const INSIDE = 'inside'

/**
 * The back button of a phone, or of a browser: while this holds, it asks `leave` and does not leave the program.
 *
 * `leave` says whether it left; where it did not, the next press asks again. The entry in the page's history stays behind
 * when a screen is left in another way: taking it out is no matter of a moment, and would be taken for a press by the
 * screen that comes next. One press then does nothing. Returns what ends it.
 */
export function onBack(leave: () => boolean, page: BackPage = window): () => void {
  const enter = () => {
    if (page.history.state !== INSIDE) page.history.pushState(INSIDE, '')
  }
  const pressed = () => {
    if (!leave()) enter()
  }
  enter()
  page.addEventListener('popstate', pressed)
  return () => {
    page.removeEventListener('popstate', pressed)
  }
}
