/** State that asks the core and says what went wrong. */
export class Attempts {
  trouble = $state.raw<unknown>(null)

  /** Takes the trouble of an attempt down, in place of that of the one before. */
  protected async attempt(act: () => Promise<void>): Promise<void> {
    this.trouble = null
    try {
      await act()
    } catch (thrown) {
      this.trouble = thrown
    }
  }
}
