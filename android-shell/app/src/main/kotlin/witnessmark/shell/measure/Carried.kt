package witnessmark.shell.measure

import org.json.JSONException
import org.json.JSONObject
import witnessmark.door.MeasureGiven

/** A measure on its way to another screen, as one word of a place: it is not lost if the phone is turned there. */
fun carried(measure: MeasureGiven): String = JSONObject()
    .put("quantity", measure.quantity).put("value", measure.value).put("unit", measure.unit).put("u", measure.u)
    .put("method", measure.method).put("marks", measure.marks).put("photo", measure.photo).put("context", JSONObject(measure.context)).toString()

/** None where there is none. */
fun carried(text: String?): MeasureGiven? = try {
    text?.let { JSONObject(it) }?.let { json ->
        fun word(key: String) = json.optString(key).ifEmpty { null }
        val context = json.getJSONObject("context")
        MeasureGiven(
            json.getString("quantity"), json.getString("value"), json.getString("unit"), word("u"), json.getString("method"), word("marks"), word("photo"),
            context.keys().asSequence().associateWith { context.getString(it) },
        )
    }
} catch (_: JSONException) { null }
