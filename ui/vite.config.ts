import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defineConfig } from 'vitest/config'

export default defineConfig({
  base: './',
  plugins: [svelte()],
  build: {
    target: 'es2022',
    // Every asset is a file of its own, so that a content policy of 'self' suffices.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    chunkSizeWarningLimit: 700,
  },
  test: { include: ['src/**/*.test.ts'] },
})
