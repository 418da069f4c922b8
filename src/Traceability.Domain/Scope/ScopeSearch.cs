using System.Globalization;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tools;

namespace Traceability.Domain.Scope;

/// <summary>What a search must know beside the units' rows.</summary>
/// <param name="Families">
/// For each lot that is suspected, and each that was received as a suspected supplier's lot: it, the lots that it was made of and those
/// that were made of it, with their facts, at any depth; a lot without facts is left out.
/// </param>
public sealed record ScopeKnowledge(IReadOnlyDictionary<LotKey, IReadOnlyDictionary<LotKey, Lot>> Families)
{
    private static readonly IReadOnlyDictionary<LotKey, Lot> None = ImmutableDictionary<LotKey, Lot>.Empty;

    /// <summary>The suspected tools, with their facts; one without facts is left out.</summary>
    public IReadOnlyDictionary<ToolNumber, Tool> Tools { get; init; } = ImmutableDictionary<ToolNumber, Tool>.Empty;

    /// <summary>A suspected lot's facts; null if there are none.</summary>
    public Lot? Lot(LotKey lot) => FamilyOf(lot).GetValueOrDefault(lot);

    /// <summary>A suspected lot and those that it was made of or went into.</summary>
    public IReadOnlyDictionary<LotKey, Lot> FamilyOf(LotKey lot) => Families.GetValueOrDefault(lot) ?? None;

    /// <summary>The lots that were received as a supplier's lot, ordered by name (ordinal).</summary>
    internal ImmutableArray<LotKey> LotsOf(SuspectSupplierLot suspect) =>
    [
        .. Families.Keys.Where(k => Lot(k)?.Received is { } r
                && string.Equals(r.SupplierLot, suspect.SupplierLot, StringComparison.Ordinal)
                && (suspect.Supplier is null || string.Equals(r.Supplier, suspect.Supplier, StringComparison.Ordinal)))
            .OrderBy(k => k.ToString(), StringComparer.Ordinal),
    ];
}

/// <summary>A suspect of which nothing is known: most likely its name is wrong.</summary>
/// <param name="Pointer">Where it stands in the question: a JSON pointer from the suspect on, "" for the whole.</param>
/// <param name="Suspect">The suspect.</param>
public sealed record UnknownSuspect(string Pointer, SingleSuspect Suspect);

/// <summary>What was found for a suspect or a combination of suspects.</summary>
/// <param name="Suspect">What was asked for.</param>
/// <param name="Members">The units, ordered by name (ordinal).</param>
/// <param name="Scopes">What each single suspect reaches, in the order of the question; a supplier's lot as its lots.</param>
/// <param name="Unknown">Suspects of which nothing is known.</param>
public sealed record ScopeFound(
    Suspect Suspect, ImmutableArray<FoundMember> Members, ImmutableArray<ScopeResult> Scopes, ImmutableArray<UnknownSuspect> Unknown)
{
    /// <summary>The ways of the units into each other that were looked up.</summary>
    public required Genealogy Genealogy { get; init; }

    /// <summary>What clears units of the suspect; null where that can't be told by a record of another lot: for all but whole lots and containers, one or any of several.</summary>
    public ImmutableArray<ClearingRule>? Clearing =>
        IsOfWholeLots(Suspect) ? [.. Scopes.Cast<LotScopeResult>().Select(s => s.Clearing)] : null;

    /// <summary>Finds where each member is now: the outermost unit that it is inside of, and where that one stands.</summary>
    /// <returns>One for each of <see cref="Members"/>, in their order.</returns>
    public ValueTask<ImmutableArray<Whereabouts>> LocateAsync(CancellationToken cancellation) => Genealogy.LocateAsync(Members, cancellation);

    private static bool IsOfWholeLots(Suspect suspect) => suspect switch
    {
        SuspectFactor factor => factor.Filter.IsNone,
        SuspectSupplierLot supplierLot => supplierLot.Filter.IsNone,
        SuspectAny any => any.Of.All(IsOfWholeLots),
        _ => false,
    };
}

/// <summary>Finds what a suspect or a combination of suspects reaches: each single one by a walk, then combined.</summary>
public sealed class ScopeSearch
{
    private readonly Genealogy _genealogy;
    private readonly ScopeKnowledge _knowledge;
    private readonly ImmutableArray<ScopeResult>.Builder _scopes = ImmutableArray.CreateBuilder<ScopeResult>();
    private readonly ImmutableArray<UnknownSuspect>.Builder _unknown = ImmutableArray.CreateBuilder<UnknownSuspect>();

    private ScopeSearch(IScopeSource source, ScopeKnowledge knowledge)
    {
        _genealogy = new(source);
        _knowledge = knowledge;
    }

    /// <summary>Runs the search.</summary>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="source">Where the rows are.</param>
    /// <param name="knowledge">What else must be known.</param>
    /// <param name="cancellation">Stops it.</param>
    public static async ValueTask<ScopeFound> RunAsync(
        Suspect suspect, IScopeSource source, ScopeKnowledge knowledge, CancellationToken cancellation)
    {
        var search = new ScopeSearch(source, knowledge);
        var members = await search.FindAsync(suspect, string.Empty, cancellation);
        return new(suspect, members, search._scopes.DrainToImmutable(), search._unknown.DrainToImmutable()) { Genealogy = search._genealogy };
    }

    private async ValueTask<ImmutableArray<FoundMember>> FindAsync(Suspect suspect, string pointer, CancellationToken cancellation) => suspect switch
    {
        SuspectAll all => ScopeCombination.All(await EachAsync(all.Of, pointer, cancellation)),
        SuspectAny any => ScopeCombination.Any(await EachAsync(any.Of, pointer, cancellation)),
        SuspectExcept except => ScopeCombination.Except(
            await FindAsync(except.Of, pointer + "/of", cancellation), await FindAsync(except.But, pointer + "/but", cancellation)),
        SuspectSupplierLot supplierLot => await SupplierLotAsync(supplierLot, pointer, cancellation),
        SuspectFactor factor => await LotAsync(factor, pointer, cancellation),
        SuspectComponent component => await ComponentAsync(component, pointer, cancellation),
        SuspectTool tool => await ToolAsync(tool, pointer, cancellation),
        SuspectWork work => await DirectAsync(work, await WorkStart.FindAsync(work, _genealogy.Source, cancellation), cancellation),
        SuspectMeasured measured => await DirectAsync(measured, await new MeasuredStart(measured).FindAsync(_genealogy.Source, cancellation), cancellation),
        SuspectInterval interval => await DirectAsync(interval, await IntervalStart.FindAsync(interval, _genealogy.Source, cancellation), cancellation),
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private async ValueTask<List<ImmutableArray<FoundMember>>> EachAsync(ImmutableArray<Suspect> of, string pointer, CancellationToken cancellation)
    {
        var parts = new List<ImmutableArray<FoundMember>>(of.Length);
        for (var i = 0; i < of.Length; i++)
        {
            parts.Add(await FindAsync(of[i], string.Create(CultureInfo.InvariantCulture, $"{pointer}/of/{i}"), cancellation));
        }

        return parts;
    }

    private async ValueTask<ImmutableArray<FoundMember>> LotAsync(SuspectFactor factor, string pointer, CancellationToken cancellation)
    {
        var lot = _knowledge.Lot(factor.Lot);
        var scope = await ScopeWalk.RunAsync(
            factor, LotPresence.Of(factor, lot), LotCarrier.Of(factor, _knowledge.FamilyOf(factor.Lot)), _genealogy, cancellation);
        if (lot is null && !scope.IsLotNamed)
        {
            _unknown.Add(new(pointer, factor));
        }

        return Add(scope);
    }

    private async ValueTask<ImmutableArray<FoundMember>> SupplierLotAsync(SuspectSupplierLot suspect, string pointer, CancellationToken cancellation)
    {
        var parts = new List<ImmutableArray<FoundMember>>();
        foreach (var lot in _knowledge.LotsOf(suspect))
        {
            parts.Add(await LotAsync(new SuspectLot(lot) { Filter = suspect.Filter }, pointer, cancellation));
        }

        if (parts.Count == 0)
        {
            _unknown.Add(new(pointer, suspect));
            return [];
        }

        return ScopeCombination.Any(parts);
    }

    private async ValueTask<ImmutableArray<FoundMember>> ComponentAsync(SuspectComponent component, string pointer, CancellationToken cancellation)
    {
        var unit = component.Unit.ToString();
        var known = _genealogy.Of(unit);
        await _genealogy.LoadAsync([known], cancellation);
        await _genealogy.LoadStandsAsync([known], cancellation);
        var isKnown = known.Stands is not null || known.Installed.Length > 0;
        if (!isKnown)
        {
            _unknown.Add(new(pointer, component));
        }

        var itself = new Reach(unit, HopKind.Itself, rowId: 0, via: null)
        {
            From = DateTimeOffset.MinValue,
            SureFrom = DateTimeOffset.MinValue,
            To = DateTimeOffset.MaxValue,
            IsProven = true,
        };
        return Add(new ScopeResult(component, isKnown, await ScopeWalk.RunAsync([itself], _genealogy, cancellation), _genealogy));
    }

    private async ValueTask<ImmutableArray<FoundMember>> ToolAsync(SuspectTool suspect, string pointer, CancellationToken cancellation)
    {
        var tool = _knowledge.Tools.GetValueOrDefault(suspect.Tool);
        var found = await new ToolStart(suspect, tool).FindAsync(_genealogy.Source, cancellation);
        if (tool is null && !found.IsNamed)
        {
            _unknown.Add(new(pointer, suspect));
        }

        return await DirectAsync(suspect, found, cancellation);
    }

    private async ValueTask<ImmutableArray<FoundMember>> DirectAsync(SingleSuspect suspect, DirectReaches found, CancellationToken cancellation) =>
        Add(new ScopeResult(suspect, found.IsNamed, await ScopeWalk.RunAsync(found.Finish(), _genealogy, cancellation), _genealogy));

    private ImmutableArray<FoundMember> Add(ScopeResult scope)
    {
        _scopes.Add(scope);
        return ScopeCombination.Of(scope);
    }
}
