package witnessmark.shell.kit

import android.content.Context
import android.content.res.Configuration
import witnessmark.shell.R

/** The colours of one theme. Nothing is told by them alone. */
class Ink(val paper: Int, val ink: Int, val faint: Int, val rule: Int, val plate: Int, val onPlate: Int, val mark: Int, val night: Boolean) {
    companion object {
        fun of(context: Context, theme: String): Ink {
            fun c(id: Int) = context.getColor(id)
            val night = theme == "night" || theme == "phone" &&
                context.resources.configuration.uiMode and Configuration.UI_MODE_NIGHT_MASK == Configuration.UI_MODE_NIGHT_YES
            return when {
                night -> Ink(c(R.color.night_paper), c(R.color.night_ink), c(R.color.night_faint), c(R.color.night_rule), c(R.color.night_plate), c(R.color.night_on_plate), c(R.color.night_mark), true)
                theme == "sun" -> Ink(c(R.color.sun_paper), c(R.color.sun_ink), c(R.color.sun_faint), c(R.color.sun_rule), c(R.color.sun_plate), c(R.color.sun_on_plate), c(R.color.sun_mark), false)
                else -> Ink(c(R.color.paper), c(R.color.ink), c(R.color.faint), c(R.color.rule), c(R.color.plate), c(R.color.on_plate), c(R.color.mark), false)
            }
        }
    }
}
