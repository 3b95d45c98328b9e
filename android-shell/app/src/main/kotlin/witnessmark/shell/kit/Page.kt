package witnessmark.shell.kit

import android.content.Context
import android.graphics.Typeface
import android.os.Build
import android.text.InputType
import android.view.Gravity
import android.view.View
import android.view.ViewGroup.LayoutParams.MATCH_PARENT
import android.view.ViewGroup.LayoutParams.WRAP_CONTENT
import android.widget.Button
import android.widget.EditText
import android.widget.ImageView
import android.widget.LinearLayout
import android.widget.ScrollView
import android.widget.TextView

/** One screen's content, in the order of reading; every control carries a tag, which tests click. */
class Page(val context: Context, val ink: Ink, private val thumbLeft: Boolean, private val saidNow: String, private val screen: Screen) {
    private val px = context.resources.displayMetrics.density
    private val big = context.resources.configuration.fontScale >= 1.3f || context.resources.configuration.screenWidthDp < 340
    private val read = column()
    private val hand = column()
    private var row: LinearLayout? = null

    fun dp(n: Int) = (n * px).toInt()
    fun word(id: Int, vararg more: Any): String = context.getString(id, *more)

    private fun column() = LinearLayout(context).apply { orientation = LinearLayout.VERTICAL }

    fun label(text: String, sp: Float, bold: Boolean = false, colour: Int = ink.ink) = TextView(context).apply {
        this.text = text
        textSize = sp
        setTextColor(colour)
        if (bold) typeface = Typeface.create("sans-serif-condensed", Typeface.BOLD)
    }

    private fun below(view: View, top: Int = 0, height: Int = WRAP_CONTENT): View {
        read.addView(view, LinearLayout.LayoutParams(MATCH_PARENT, height).apply { topMargin = dp(top) })
        return view
    }

    /** What the screen is about; a heading for those who hear it. */
    fun title(text: String, above: String = "") {
        if (above.isNotEmpty()) below(label(above, 15f, colour = ink.faint))
        heading(text, 25f)
    }
    fun heading(text: String, sp: Float = 18f) {
        val view = below(label(text, sp, true), if (sp > 20) 0 else 14)
        if (Build.VERSION.SDK_INT >= 28) view.isAccessibilityHeading = true
    }
    fun line(text: String) { if (text.isNotEmpty()) below(label(text, 17f), 6) }
    fun quiet(text: String) { if (text.isNotEmpty()) below(label(text, 15f, colour = ink.faint), 3) }

    /** A caution: ruled above and below, and the word itself. */
    fun caution(text: String) {
        if (text.isEmpty()) return
        if (read.getChildAt(read.childCount - 1)?.tag != "cautioned") rule()
        below(label(word(witnessmark.shell.R.string.caution, text), 16f, true, ink.mark), 4)
        rule()
        read.getChildAt(read.childCount - 1).tag = "cautioned"
    }
    fun rule() { below(View(context).apply { setBackgroundColor(ink.rule) }, 4, maxOf(1, dp(1))) }

    /** A ruled row: a name, and what is said of it. One control if it leads anywhere. */
    fun ruled(name: String, said: String, tag: String? = null, go: (() -> Unit)? = null) {
        val line = LinearLayout(context).apply {
            orientation = if (big || name.length + said.length > 46) LinearLayout.VERTICAL else LinearLayout.HORIZONTAL
            gravity = Gravity.CENTER_VERTICAL
            setPadding(0, dp(6), 0, dp(6))
        }
        val first = label(name, 17f, go != null)
        val second = label(said, 16f, colour = ink.faint)
        if (line.orientation == LinearLayout.HORIZONTAL) {
            line.addView(first, LinearLayout.LayoutParams(0, WRAP_CONTENT, 1f))
            line.addView(second, LinearLayout.LayoutParams(WRAP_CONTENT, WRAP_CONTENT).apply { marginStart = dp(12) })
        } else {
            line.addView(first); if (said.isNotEmpty()) line.addView(second)
        }
        if (go != null) {
            line.minimumHeight = dp(52)
            line.background = RowGround(ink, px)
            line.contentDescription = if (said.isEmpty()) name else "$name, $said"
            first.importantForAccessibility = View.IMPORTANT_FOR_ACCESSIBILITY_NO
            second.importantForAccessibility = View.IMPORTANT_FOR_ACCESSIBILITY_NO
            line.isFocusable = true
            line.setOnClickListener { go() }
            line.tag = tag
        }
        below(line)
        if (go == null) rule()
    }

    fun picture(view: View, height: Int) { below(view, 8, dp(height)) }
    fun photo(path: String?, orientation: Int, says: String, height: Int = 180, tag: String? = null, go: (() -> Unit)? = null) {
        val bitmap = path?.let { Photos.small(it, orientation, dp(360)) }
        if (bitmap == null) { if (go != null) ruled(says, "", tag, go) else quiet(says); return }
        val image = ImageView(context).apply {
            setImageBitmap(bitmap)
            scaleType = ImageView.ScaleType.CENTER_CROP
            contentDescription = says
            if (go != null) { setOnClickListener { go() }; this.tag = tag; isFocusable = true }
        }
        below(image, 8, dp(height))
        quiet(says)
    }

    fun field(hint: String, value: String, tag: String, type: Int = InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_FLAG_CAP_SENTENCES, changed: (String) -> Unit = {}): EditText {
        below(label(hint, 15f, colour = ink.faint).apply { labelFor = tag.hashCode() and 0xffffff }, 10)
        // What was typed before the phone was turned or the process went.
        val typed = screen.noted("field $tag")?.also(changed) ?: value
        val edit = EditText(context).apply {
            id = tag.hashCode() and 0xffffff
            setText(typed)
            textSize = 19f
            setTextColor(ink.ink)
            inputType = type
            if (type and InputType.TYPE_TEXT_FLAG_MULTI_LINE != 0) { minLines = 3; gravity = Gravity.TOP or Gravity.START }
            minimumHeight = dp(56)
            background = Placard(ink, "usual", px)
            setPadding(dp(14), dp(10), dp(14), dp(10))
            this.tag = tag
            addTextChangedListener(object : android.text.TextWatcher {
                override fun afterTextChanged(s: android.text.Editable) { screen.note("field $tag", s.toString()); changed(s.toString()) }
                override fun beforeTextChanged(s: CharSequence?, a: Int, b: Int, c: Int) = Unit
                override fun onTextChanged(s: CharSequence?, a: Int, b: Int, c: Int) = Unit
            })
        }
        below(edit, 2)
        return edit
    }

    /** One of several; the chosen one is said in words and by a mark before it. */
    fun choose(choices: List<Pair<String, String>>, chosen: String?, tag: String, pick: (String) -> Unit) {
        for ((key, title) in choices) {
            val on = key == chosen
            ruled(if (on) "\u25B6  $title" else title, if (on) word(witnessmark.shell.R.string.chosen) else "", "$tag:$key") { pick(key) }
        }
    }

    // What is done.

    /** `size` is the core's word: main, usual, small. */
    fun action(text: String, size: String, tag: String, asRead: Boolean = false, go: () -> Unit): Button {
        val high = when (size) { "main" -> 76; "usual" -> 60; else -> 52 }
        val button = Button(context, null, 0).apply {
            this.text = text
            isAllCaps = false
            gravity = Gravity.CENTER
            textSize = when (size) { "main" -> 21f; "usual" -> 18f; else -> 16f }
            typeface = if (size == "small") Typeface.DEFAULT else Typeface.create("sans-serif-condensed", Typeface.BOLD)
            setTextColor(if (size == "main") ink.onPlate else ink.ink)
            background = Placard(ink, size, px)
            minimumHeight = dp(high); minHeight = dp(high); minimumWidth = dp(72); minWidth = dp(72)
            setPadding(dp(18), dp(6), dp(18), dp(6))
            isClickable = true; isFocusable = true
            setOnClickListener { go() }
            this.tag = tag
        }
        // The main one takes the whole width; others stand in pairs, the likelier one at the thumb.
        val pair = row
        if (size != "main" && !big && pair != null && pair.childCount == 1 && pair.tag == size) {
            // Both fill the row, so that the row is as high as the higher one.
            pair.getChildAt(0).layoutParams.height = MATCH_PARENT
            // `asRead`: answers such as left and right stay on their sides.
            val after = thumbLeft || asRead
            pair.addView(button, if (after) 1 else 0, LinearLayout.LayoutParams(0, MATCH_PARENT, 1f).apply { if (after) leftMargin = dp(8) else rightMargin = dp(8) })
            row = null
        } else {
            val line = LinearLayout(context).apply { layoutDirection = View.LAYOUT_DIRECTION_LTR; isBaselineAligned = false; this.tag = size }
            line.addView(button, LinearLayout.LayoutParams(0, WRAP_CONTENT, 1f))
            hand.addView(line, LinearLayout.LayoutParams(MATCH_PARENT, WRAP_CONTENT).apply { topMargin = dp(if (size == "small") 2 else 8) })
            row = if (size == "main") null else line
        }
        return button
    }

    /** The page as a view. What was just saved is said between the two parts, and spoken. */
    fun view(): View {
        val side = dp(16)
        read.setPadding(side, dp(10), side, dp(12))
        read.gravity = Gravity.BOTTOM
        val scroll = ScrollView(context).apply {
            isFillViewport = true
            addView(read)
            tag = "reading"
        }
        val said = label(saidNow, 16f, true).apply {
            accessibilityLiveRegion = View.ACCESSIBILITY_LIVE_REGION_POLITE
            tag = "said"
            visibility = if (saidNow.isEmpty()) View.GONE else View.VISIBLE
            setPadding(0, dp(6), 0, dp(2))
        }
        hand.addView(said, 0)
        hand.setPadding(side, 0, side, dp(10))
        val acts = ScrollView(context).apply {
            addView(hand)
            setBackgroundColor(ink.paper)
            tag = "hand"
        }
        return HandLayout(context, scroll, acts, thumbLeft).apply { setBackgroundColor(ink.paper) }
    }
}
