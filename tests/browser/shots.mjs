// Pictures of the screens, to be looked at: node shots.mjs [folder]
import { mkdir } from 'node:fs/promises'
import { join, resolve } from 'node:path'
import { answered, DESKTOP, openBrowser, openSite, PHONE, ui } from './site.mjs'

const folder = resolve(ui, process.argv[2] ?? '../target/shots')
await mkdir(folder, { recursive: true })
const site = await openSite()
const browser = await openBrowser()
let taken = 0

for (const [device, options] of Object.entries({ phone: PHONE, desktop: DESKTOP })) {
  for (const colorScheme of ['light', 'dark']) {
    const context = await browser.newContext({ ...options, colorScheme })
    const page = await context.newPage()
    const shoot = async (name) => {
      await page.waitForTimeout(400) // the map draws on its own frames
      await page.screenshot({ path: join(folder, `${device}-${colorScheme}-${name}.png`) })
      taken++
    }
    await page.goto(site.address)
    await page.locator('[data-flight]').first().waitFor()
    await shoot('flights')
    const flights = await page.locator('[data-flight]').evaluateAll((all) => all.map((it) => it.dataset.flight))
    for (const flight of flights) {
      await page.locator(`[data-flight="${flight}"]`).click()
      await answered(page)
      await shoot(flight)
      if (flight === flights[0]) {
        await page.getByRole('radio').last().check({ force: true })
        await shoot(`${flight}-mode`)
        await page.locator('.paper').evaluate((it) => it.scrollTo({ top: it.scrollHeight }))
        await shoot(`${flight}-end`)
        if (device === 'phone') {
          await page.getByRole('button', { name: 'More map' }).click()
          await shoot(`${flight}-map`)
          await page.getByRole('button', { name: 'More words' }).click()
        }
      }
      await page.getByRole('button', { name: 'Flights' }).click()
    }
    await context.close()
  }
}
await browser.close()
site.close()
console.log(`${taken} pictures of ${site.kind} in ${folder}`)
