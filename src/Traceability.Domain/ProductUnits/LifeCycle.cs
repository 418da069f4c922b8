using Traceability.Domain.Facts;
using Traceability.Domain.Judging;

namespace Traceability.Domain.ProductUnits;

/// <summary>What can happen to a unit as a whole.</summary>
public enum UnitAct
{
    /// <summary>A step is started or completed on it.</summary>
    Work,

    /// <summary>It is stopped.</summary>
    Hold,

    /// <summary>The last hold on it is lifted: it is no longer stopped.</summary>
    LiftHold,

    /// <summary>It is released.</summary>
    Release,

    /// <summary>It leaves to a consignee.</summary>
    Ship,

    /// <summary>It comes back.</summary>
    Return,

    /// <summary>It is scrap.</summary>
    Scrap,

    /// <summary>It is put into another unit.</summary>
    Install,
}

/// <summary>Where a unit stands in its life.</summary>
/// <param name="Place">Where it is, a hold aside: in process, in stock, shipped, returned or scrapped.</param>
/// <param name="IsHeld">Whether a hold is on it.</param>
public readonly record struct Standing(Place Place, bool IsHeld)
{
    /// <summary>A unit that was just opened.</summary>
    public static Standing New => new(Place.InProcess, IsHeld: false);

    /// <summary>Where it is shown: a hold stops what is on site; what has left or is scrap is where it is.</summary>
    public Place Shown => IsHeld && Place is (Place.InProcess or Place.InStock or Place.Returned) ? Place.OnHold : Place;
}

/// <summary>What an act on a unit does, and what is wrong with it.</summary>
/// <param name="Next">How the unit stands afterwards, since what happened has happened.</param>
/// <param name="Findings">What is found when it is reported all the same: kinds of <see cref="FindingKinds"/>.</param>
/// <param name="Refusals">Why a person who asks for it is refused; only releasing and shipping are asked for.</param>
public readonly record struct LifeCycleCell(Standing Next, ImmutableArray<string> Findings, ImmutableArray<string> Refusals);

/// <summary>The life of a unit as a table: standing × act → the next standing, findings, refusals. Every cell is tested.</summary>
/// <remarks>
/// A report of what happened is always recorded, and what does not fit becomes a finding. Releasing and shipping can also be
/// asked for, as decisions of a person: then what would become a finding is refused.
/// </remarks>
public static class LifeCycle
{
    public const string NotReleased = "not-released";
    public const string AlreadyReleased = "already-released";
    public const string AlreadyShipped = "already-shipped";
    public const string Scrapped = "scrapped";
    public const string OnHold = "on-hold";

    private static readonly ImmutableArray<string> None = [];
    private static readonly ImmutableArray<string> AfterScrap = [FindingKinds.ActedOnAfterScrap];

    /// <summary>The cell. Total: every standing has every act.</summary>
    public static LifeCycleCell Of(Standing standing, UnitAct act) => act switch
    {
        UnitAct.Work => new(standing with { Place = standing.Place == Place.Returned ? Place.InProcess : standing.Place }, OfWork(standing), None),
        UnitAct.Hold => new(standing with { IsHeld = true }, None, None),
        UnitAct.LiftHold => new(standing with { IsHeld = false }, None, None),
        UnitAct.Release => Release(standing),
        UnitAct.Ship => Ship(standing),
        UnitAct.Return => new(Move(standing, Place.Returned), OfReturn(standing.Place), None),
        UnitAct.Scrap => new(standing with { Place = Place.Scrapped }, None, None),
        UnitAct.Install => new(standing, OfInstalling(standing), None),
        _ => throw new ArgumentOutOfRangeException(nameof(act)),
    };

    /// <summary>The act that a fact of a unit's stream reports; null for one that moves the unit nowhere.</summary>
    /// <remarks>Whether a lifted hold was the last one, the fact alone doesn't tell: see <see cref="Next"/>.</remarks>
    public static UnitAct? ActOf(Fact fact) => fact switch
    {
        StepStarted or StepCompleted => UnitAct.Work,
        UnitHeld => UnitAct.Hold,
        UnitHoldLifted => UnitAct.LiftHold,
        UnitReleased => UnitAct.Release,
        UnitShipped => UnitAct.Ship,
        UnitReturned => UnitAct.Return,
        UnitScrapped => UnitAct.Scrap,
        _ => null,
    };

    /// <summary>How the unit stood at a moment, by all that is known of it.</summary>
    public static Standing At(ProductUnit unit, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(unit);
        var standing = Standing.New;
        var holds = default(StandingHolds);
        foreach (var fact in unit.Effective)
        {
            if (fact.At > at)
            {
                break;
            }

            if (!fact.IsVoided && ActOf(fact.Fact) is { } act)
            {
                standing = Next(Of(standing, act), fact.Fact, ref holds);
            }
        }

        return standing;
    }

    /// <summary>How the unit stands after a fact: as its act's cell says, and held while any hold stands.</summary>
    /// <param name="cell">The cell of the fact's act.</param>
    /// <param name="fact">The fact.</param>
    /// <param name="holds">The holds that stand before it; afterwards, those that stand with it.</param>
    internal static Standing Next(LifeCycleCell cell, Fact fact, ref StandingHolds holds)
    {
        holds.Take(fact);
        return cell.Next with { IsHeld = holds.IsAny };
    }

    /// <summary>The sentence for a refusal: what is in the way and what to do.</summary>
    public static string Say(string refusal) => refusal switch
    {
        NotReleased => "It is not released. Release it first.",
        AlreadyReleased => "It is released already. If it was worked on since, void that release, and release it anew.",
        AlreadyShipped => "It has been shipped and is not recorded as back. Record its return first.",
        Scrapped => "It is scrap.",
        OnHold => "It is on hold. Find out why, and lift the hold first.",
        _ => throw new ArgumentOutOfRangeException(nameof(refusal)),
    };

    private static LifeCycleCell Release(Standing standing)
    {
        ImmutableArray<string> refusals = standing.Place switch
        {
            Place.InStock => [AlreadyReleased],
            Place.Shipped => [AlreadyShipped],
            Place.Scrapped => [Scrapped],
            _ => None,
        };
        ImmutableArray<string> findings = standing.Place switch
        {
            Place.Shipped => [FindingKinds.ReleasedWhileShipped],
            Place.Scrapped => AfterScrap,
            _ => None,
        };
        return standing.IsHeld
            ? new(Move(standing, Place.InStock), findings.Add(FindingKinds.ReleasedOnHold), refusals.Add(OnHold))
            : new(Move(standing, Place.InStock), findings, refusals);
    }

    private static LifeCycleCell Ship(Standing standing)
    {
        ImmutableArray<string> findings = standing.Place switch
        {
            Place.InProcess or Place.Returned => [FindingKinds.ShippedUnreleased],
            Place.Shipped => [FindingKinds.ShippedTwice],
            Place.Scrapped => AfterScrap,
            _ => None,
        };
        ImmutableArray<string> refusals = standing.Place switch
        {
            Place.InProcess or Place.Returned => [NotReleased],
            Place.Shipped => [AlreadyShipped],
            Place.Scrapped => [Scrapped],
            _ => None,
        };
        return standing.IsHeld
            ? new(Move(standing, Place.Shipped), findings.Add(FindingKinds.ShippedOnHold), refusals.Add(OnHold))
            : new(Move(standing, Place.Shipped), findings, refusals);
    }

    // Scrap stays scrap, whatever is reported of it.
    private static Standing Move(Standing standing, Place to) => standing.Place == Place.Scrapped ? standing : standing with { Place = to };

    private static ImmutableArray<string> OfReturn(Place place) => place switch
    {
        Place.Shipped => None,
        Place.Scrapped => AfterScrap,
        _ => [FindingKinds.ReturnedNotShipped],
    };

    // Found on the attempt by the rules of order, once the step is completed.
    private static ImmutableArray<string> OfWork(Standing standing)
    {
        ImmutableArray<string> findings = standing.IsHeld ? [FindingKinds.WorkedOnWhileHeld] : None;
        return standing.Place is Place.InStock or Place.Shipped or Place.Scrapped ? findings.Add(FindingKinds.WorkedOnAfterEnd) : findings;
    }

    // Found on the other unit, by the rules of components. Whether it must be released is for the position to say.
    private static ImmutableArray<string> OfInstalling(Standing standing)
    {
        ImmutableArray<string> findings = standing.Place is Place.Shipped or Place.Scrapped ? [FindingKinds.ComponentNotOnSite] : None;
        return standing.IsHeld ? findings.Add(FindingKinds.ComponentHeld) : findings;
    }
}
