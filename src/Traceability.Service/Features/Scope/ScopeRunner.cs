using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Scope;

/// <summary>Runs questions for a scope. Everything that asks for one goes through it.</summary>
/// <param name="clock">Tells the moment of asking.</param>
internal sealed class ScopeRunner(TimeProvider clock)
{
    /// <summary>What the suspect reaches; null if nothing is known of it, or of a part of it.</summary>
    /// <param name="snapshot">A connection in a transaction that sees one moment.</param>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="cancellation">Stops it.</param>
    public async Task<ScopeOutcome?> RunAsync(NpgsqlConnection snapshot, Suspect suspect, CancellationToken cancellation) =>
        (await AskAsync(snapshot, suspect, string.Empty, cancellation)).Outcome;

    /// <summary>What the suspect reaches, or the refusal that names every part of it of which nothing is known.</summary>
    /// <param name="snapshot">A connection in a transaction that sees one moment.</param>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="pointer">Where the suspect stands in what was sent.</param>
    /// <param name="cancellation">Stops it.</param>
    public async Task<(ScopeOutcome? Outcome, Refusal? Refusal)> AskAsync(
        NpgsqlConnection snapshot, Suspect suspect, string pointer, CancellationToken cancellation)
    {
        var asOf = clock.GetUtcNow();
        var completeness = await CompletenessReader.ReadAsync(snapshot, null, cancellation);
        var knowledge = await KnowledgeAsync(snapshot, suspect, cancellation);
        var found = await ScopeSearch.RunAsync(suspect, new SqlScopeSource(snapshot), knowledge, cancellation);
        if (!found.Unknown.IsEmpty)
        {
            return (null, Unknown(found.Unknown, pointer));
        }

        var whereabouts = await found.Genealogy.LocateAsync([.. found.Members.Select(m => m.Unit)], cancellation);
        return (new(asOf, found, whereabouts, completeness, [.. ScopeRemarks.Of(found, knowledge, completeness)]) { Knowledge = knowledge }, null);
    }

    private static async Task<ScopeKnowledge> KnowledgeAsync(NpgsqlConnection snapshot, Suspect suspect, CancellationToken cancellation)
    {
        var families = new Dictionary<LotKey, IReadOnlyDictionary<LotKey, Lot>>();
        foreach (var single in suspect.Singles())
        {
            IReadOnlyList<LotKey> lots = single switch
            {
                SuspectFactor factor => [factor.Lot],
                SuspectSupplierLot supplierLot => await LotNaming.OfSupplierLotAsync(snapshot, supplierLot.SupplierLot, cancellation),
                _ => [],
            };
            foreach (var lot in lots.Where(l => !families.ContainsKey(l)))
            {
                families.Add(lot, await LotNaming.LoadAsync(snapshot, [lot], cancellation));
            }
        }

        return new(families) { Tools = await ToolsAsync(snapshot, [.. suspect.Singles().OfType<SuspectTool>().Select(t => t.Tool).Distinct()], cancellation) };
    }

    private static async Task<Dictionary<ToolNumber, Tool>> ToolsAsync(
        NpgsqlConnection snapshot, IReadOnlyCollection<ToolNumber> numbers, CancellationToken cancellation)
    {
        var tools = new Dictionary<ToolNumber, Tool>();
        if (numbers.Count > 0)
        {
            var streams = await EventReader.LoadAsync(snapshot, [.. numbers.Select(StreamNames.Of)], cancellation);
            foreach (var number in numbers)
            {
                if (streams.TryGetValue(StreamNames.Of(number), out var facts))
                {
                    tools.Add(number, Tool.Of(number, facts));
                }
            }
        }

        return tools;
    }

    private static Refusal Unknown(ImmutableArray<UnknownSuspect> unknown, string pointer)
    {
        var (code, detail) = Describe(unknown[0].Suspect);
        return new(code, RefusalKind.Unknown, detail, [.. unknown.Select(u => new Fault(pointer + u.Pointer + Member(u.Suspect), Describe(u.Suspect).Detail))]);
    }

    private static (string Code, string Detail) Describe(SingleSuspect suspect) => suspect switch
    {
        SuspectFactor f => ("lot-unknown", $"Lot {f.Lot} was never received and no record names it. Check item and lot number."),
        SuspectSupplierLot s => ("lot-unknown", $"No lot was received as supplier's lot {s.SupplierLot}. Check its number, and the supplier."),
        SuspectTool t => ("tool-unknown", $"Tool {t.Tool} is not known and no record names it. Correct its number."),
        SuspectComponent c => ("unit-unknown", $"Unit {c.Unit} is not known. Correct its item and serial number."),
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private static string Member(SingleSuspect suspect) => suspect switch
    {
        SuspectFactor => "/lot",
        SuspectSupplierLot => "/supplierLot",
        SuspectTool => "/tool",
        SuspectComponent => "/serial",
        _ => string.Empty,
    };
}
