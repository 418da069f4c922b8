using CsCheck;
using Traceability.Domain.Lots;
using Traceability.Domain.Narrowing;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Features.Scope;
using Traceability.Service.Tests.Scope;
using Traceability.Testing.Scope;
using Xunit;

namespace Traceability.Service.Tests.Narrowing;

public sealed class MissingFactSqlTests
{
    private const int Cases = 80;

    [Fact]
    public async Task The_tables_tell_of_the_same_missing_facts_as_the_judgements_in_memory()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        var facts = 0;
        await Gen.Int[0, 719].Array[100, 280].SampleAsync(
            async choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 12);
                await database.FillAsync(history.Records);
                await using var connection = await database.Source.OpenConnectionAsync();
                var fromTables = await SayAsync(history, new SqlScopeSource(connection));
                Assert.Equal(await SayAsync(history, new JudgementScopeSource(history.Records)), fromTables);
                facts += fromTables.Count;
            },
            iter: Cases,
            threads: 1,
            print: choices => RandomGenealogy.From(choices, 12).ToString());
        Assert.True(facts > Cases, $"{facts} lines in {Cases} histories");
    }

    private static async Task<IReadOnlyList<string>> SayAsync(RandomGenealogy history, IScopeSource rows)
    {
        var knowledge = new ScopeKnowledge(
            new Dictionary<LotKey, IReadOnlyDictionary<LotKey, Lot>> { [history.Factor.Lot] = history.Lots.SetItem(history.Factor.Lot, history.Lot) });
        var source = new WhatIfSource(rows);
        var found = await ScopeSearch.RunAsync(history.Factor, source, knowledge, default);
        var missing = await MissingFactSearch.RunAsync(found, source, knowledge, MissingFactLimits.Default, () => true, default);
        return
        [
            .. missing.Facts.Select(f => $"{f.Fact} {f.Missing} {f.Evidence} {f.Whereabouts} clears {string.Join(' ', f.Cleared)}"),
            .. missing.Groups.Select(g => $"{g.Item} {g.Step} {g.What} {g.Missing} {g.Place} {string.Join(' ', g.Facts)} clear {string.Join(' ', g.Cleared)}"),
            .. missing.Order.Select(s => $"{s.Fact.Fact} then {s.ClearedSoFar}"),
        ];
    }
}
