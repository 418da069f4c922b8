using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;

namespace Traceability.Domain.Scope;

/// <summary>The units that a suspect value was measured on, and those of which a value is missing that could have been suspect.</summary>
/// <remarks>
/// A value without stated uncertainty is compared exactly. With one, it is proven where value and expanded uncertainty lie wholly on
/// the suspect side of the bound, and possible where they reach over it. A value that can't be compared with the bound, because it
/// measures something else or its unit is not known, is possible.
/// </remarks>
internal sealed class MeasuredStart
{
    // Values and uncertainties are held as doubles: what is closer to the bound than this share of it is possible.
    private const double Closeness = 1e-12;

    private readonly SuspectMeasured _suspect;
    private readonly Quantity? _bound;
    private readonly double _magnitude;
    private readonly double _close;

    /// <summary>For a suspect condition.</summary>
    public MeasuredStart(SuspectMeasured suspect)
    {
        _suspect = suspect;
        if (suspect.Bound is { } bound)
        {
            _bound = new Quantity(bound.Value, UcumUnit.Parse(bound.Unit));
            _magnitude = _bound.Value.ToCoherent();
            _close = Math.Abs(_magnitude) * Closeness;
        }
    }

    /// <summary>Looks them up.</summary>
    public async ValueTask<DirectReaches> FindAsync(IScopeSource source, CancellationToken cancellation)
    {
        var found = new DirectReaches(_suspect);
        foreach (var value in await source.MeasuredAsync(_suspect, cancellation))
        {
            found.AddRecord(Share(value), HopKind.Measured, value.Unit, value.RowId, (value.From, value.To), value.Step, value.Station);
        }

        foreach (var gap in await source.WorkGapsAsync(WorkGapKind.Characteristic, _suspect.Item, [_suspect.Characteristic.Value], cancellation))
        {
            found.AddGap(HopKind.MeasurementMissing, gap);
        }

        return found;
    }

    private ScopeVerdict? Share(MeasuredRow row)
    {
        if (_bound is not { } bound)
        {
            return row.Passed switch { false => ScopeVerdict.Proven, null => ScopeVerdict.Possible, true => null };
        }

        if (row.Value is null)
        {
            return null;
        }

        if (row.Magnitude is not { } magnitude || !string.Equals(row.Dimension, bound.Unit.Dimension.ToString(), StringComparison.Ordinal))
        {
            return ScopeVerdict.Possible;
        }

        return row.Uncertainty is { } uncertainty ? WithUncertainty(magnitude, uncertainty) : Exactly(row.Value, bound);
    }

    private ScopeVerdict? Exactly(string value, Quantity bound)
    {
        var entered = EnteredQuantity.Parse(value);
        if (!new Quantity(entered.Value, UcumUnit.Parse(entered.Unit)).TryCompareTo(bound, out var order))
        {
            return ScopeVerdict.Possible;
        }

        var isBeyond = _suspect.Condition == MeasuredCondition.Below ? order < 0 : order > 0;
        return isBeyond ? ScopeVerdict.Proven : null;
    }

    private ScopeVerdict? WithUncertainty(double magnitude, double uncertainty)
    {
        // How far the value lies on the suspect side of the bound.
        var beyond = _suspect.Condition == MeasuredCondition.Below ? _magnitude - magnitude : magnitude - _magnitude;
        var close = _close + (Math.Abs(magnitude) * Closeness);
        return beyond - uncertainty > close ? ScopeVerdict.Proven : beyond + uncertainty >= -close ? ScopeVerdict.Possible : null;
    }
}
