import { Chart, Legend, LinearScale, PointElement, ScatterController } from 'chart.js'

// Only what points on two axes need; the rest of the library stays out of the bundle.
Chart.register(ScatterController, LinearScale, PointElement, Legend)

export { Chart }
