using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.ProductUnits;

/// <summary>The holds that stand on a unit. A hold may have a name; lifting one leaves the others standing.</summary>
/// <remarks>
/// Holds of one name are one hold, however often it was placed. Those without a name are one, too: that is what every hold was
/// before they had names. A mutable value for folding facts in order; not for sharing.
/// </remarks>
public struct StandingHolds
{
    /// <summary>What stands for the hold without a name in <see cref="Text"/>; no name has this form.</summary>
    public const string Unnamed = "*";

    private bool _isUnnamed;
    private ImmutableSortedSet<string>? _names;

    /// <summary>Whether one stands.</summary>
    public readonly bool IsAny => _isUnnamed || _names is { IsEmpty: false };

    /// <summary>Their names in order with spaces between, <see cref="Unnamed"/> for one without; null: none stands.</summary>
    public readonly string? Text => !IsAny ? null
        : _names is not { IsEmpty: false } names ? Unnamed
        : _isUnnamed ? $"{Unnamed} {string.Join(' ', names)}"
        : string.Join(' ', names);

    /// <summary>Takes a fact that counts; one that is neither a hold nor the lifting of one changes nothing.</summary>
    public void Take(Fact fact)
    {
        switch (fact)
        {
            case UnitHeld { Hold: null }:
                _isUnnamed = true;
                break;
            case UnitHoldLifted { Hold: null }:
                _isUnnamed = false;
                break;
            case UnitHeld { Hold: { } hold }:
                _names = (_names ?? ImmutableSortedSet.Create<string>(StringComparer.Ordinal)).Add(hold.Value);
                break;
            case UnitHoldLifted { Hold: { } hold }:
                _names = _names?.Remove(hold.Value);
                break;
        }
    }

    /// <summary>Whether the hold of this name stands; null asks for the one without a name.</summary>
    public readonly bool Has(Code? hold) => hold is { } name ? _names?.Contains(name.Value) == true : _isUnnamed;
}
