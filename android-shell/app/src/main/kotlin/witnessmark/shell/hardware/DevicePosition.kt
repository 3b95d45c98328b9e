package witnessmark.shell.hardware

import android.annotation.SuppressLint
import android.content.Context
import android.location.Location
import android.location.LocationListener
import android.location.LocationManager
import android.os.Bundle
import android.os.Looper

/** The satellite receiver, on from the opening of the viewfinder to its closing and at no other time. Needs no network. */
class DevicePosition(context: Context) : Position, LocationListener {
    private val manager = context.getSystemService(Context.LOCATION_SERVICE) as LocationManager
    private var last: Location? = null

    init {
        try {
            last = manager.getLastKnownLocation(LocationManager.GPS_PROVIDER)
            manager.requestLocationUpdates(LocationManager.GPS_PROVIDER, 1000, 0f, this, Looper.getMainLooper())
        } catch (_: SecurityException) { // taken away meanwhile: photos carry no position
        } catch (_: IllegalArgumentException) { // no receiver
        }
    }

    /** A fix of another place, minutes ago, is no position of this photo. */
    override fun now(): Location? = last?.takeIf { System.currentTimeMillis() - it.time in 0..MOST }

    @SuppressLint("MissingPermission")
    override fun stop() = manager.removeUpdates(this)
    override fun onLocationChanged(location: Location) { last = location }
    override fun onProviderEnabled(provider: String) = Unit
    override fun onProviderDisabled(provider: String) = Unit
    @Deprecated("Deprecated in Java") override fun onStatusChanged(provider: String?, status: Int, extras: Bundle?) = Unit

    private companion object { const val MOST = 120_000L }
}
