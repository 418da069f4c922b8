using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.MasterData;

/// <summary>Makes the facts of one file and collects its errors.</summary>
/// <remarks>Every entry is turned into the fact that a client would send, and read like one; the faults are led back to the file.</remarks>
internal sealed class MasterDataBuilder(PlacedMap root, Func<DefinitionKind, string, bool> isKnown)
{
    private const string PlaceholderId = "01890a5d-ac96-774b-bcce-b302099a8057";
    private readonly List<MasterDataFact> _facts = [];
    private readonly List<MasterDataFact> _last = [];
    private readonly List<MasterDataError> _errors = [];
    private readonly HashSet<(string Pointer, string Detail)> _told = [];
    private string _asOf = "2026-01-05T08:00:00+01:00";

    /// <summary>The facts.</summary>
    public ImmutableArray<MasterDataFact> Facts => [.. _facts, .. _last];

    /// <summary>The errors, by their place.</summary>
    public ImmutableArray<MasterDataError> Errors => [.. _errors.OrderBy(e => e.Line).ThenBy(e => e.Column)];

    /// <summary>Reads every section.</summary>
    public void Build()
    {
        CheckNames(root, string.Empty, [.. MasterDataSections.Top, .. MasterDataSections.All.Select(s => s.Name)]);
        ReadAsOf();
        foreach (var section in MasterDataSections.All)
        {
            if (root.Find(section.Name) is { } member)
            {
                ReadSection(section, member.Value, $"/{section.Name}", owner: null, ownerPointer: string.Empty);
            }
        }

        CheckReferences();
    }

    // Told once; the entries are then read as of some time, so that their own errors are told too.
    private void ReadAsOf()
    {
        if (root.Find("asOf") is not { } member)
        {
            Fail("/asOf", $"asOf is missing. It says since when the definitions of this file hold, such as {_asOf}; an entry may say otherwise with 'since'.");
            return;
        }

        var reading = new JsonReading();
        if (reading.TryTime(JsonSerializer.SerializeToElement(NodeJson.Of(member.Value, member.Name)), "asOf", out _))
        {
            _asOf = ((PlacedScalar)member.Value).Text;
        }
        else
        {
            Fail("/asOf", reading.Faults[0].Detail);
        }
    }

    private void ReadSection(MasterDataSection section, PlacedNode node, string pointer, PlacedMap? owner, string ownerPointer)
    {
        if (node is PlacedScalar { IsNull: true })
        {
            return;
        }

        if (node is not PlacedList list)
        {
            Fail(pointer, "A list is expected.");
            return;
        }

        var keys = new HashSet<string>(StringComparer.Ordinal);
        for (var i = 0; i < list.Entries.Length; i++)
        {
            var at = FormattableString.Invariant($"{pointer}/{i}");
            if (list.Entries[i] is not PlacedMap entry)
            {
                Fail(at, "An entry with named members is expected.");
                continue;
            }

            CheckNames(entry, at, [.. section.Members.Select(m => m.From), "since", .. section.Apart, .. section.Parts.Select(p => p.Name)]);
            var key = section.Key.Select(k => (entry.Find(k)?.Value as PlacedScalar)?.Text).ToArray();
            if (key.Length > 0 && Array.TrueForAll(key, k => k is not null) && !keys.Add(string.Join('/', key)))
            {
                Fail(JsonPath.Append(at, section.Key[^1]), $"{string.Join('/', key)} is given before in this file.");
            }

            ReadEntry(section, entry, at, owner, ownerPointer);
        }
    }

    private void ReadEntry(MasterDataSection section, PlacedMap entry, string at, PlacedMap? owner, string ownerPointer)
    {
        var fact = new FactDraft(section.FactType);
        foreach (var (from, to) in section.Members)
        {
            fact.Set(to, entry.Find(from), JsonPath.Append(at, from));
        }

        foreach (var (from, to) in section.FromOwner)
        {
            fact.Set(to, owner?.Find(from), JsonPath.Append(ownerPointer, from));
        }

        Add(fact, entry, at, _facts);
        foreach (var part in section.Parts)
        {
            if (entry.Find(part.Name) is { } member)
            {
                ReadSection(part, member.Value, JsonPath.Append(at, part.Name), entry, at);
            }
        }

        if (entry.Find("release") is { Value: var release })
        {
            ReadRelease(entry, at, release);
        }
    }

    // A release comes after every draft: the draft must be recorded first.
    private void ReadRelease(PlacedMap entry, string at, PlacedNode release)
    {
        if (NodeJson.IsFlag(release, true))
        {
            var fact = new FactDraft("routing-released");
            foreach (var name in (string[])["item", "revision", "releasedBy"])
            {
                fact.Set($"/{name}", entry.Find(name), JsonPath.Append(at, name));
            }

            Add(fact, entry, at, _last);
        }
        else if (!NodeJson.IsFlag(release, false))
        {
            Fail(JsonPath.Append(at, "release"), "true or false is expected.");
        }
    }

    private void Add(FactDraft draft, PlacedMap entry, string at, List<MasterDataFact> to)
    {
        var since = entry.Find("since");
        draft.Set("/occurredAt", since, JsonPath.Append(at, "since"));
        if (since is null)
        {
            draft.Body["occurredAt"] = _asOf;
        }

        draft.Set("/person", root.Find("person"), "/person");
        draft.Body["factId"] = PlaceholderId;
        var reading = FactReader.Read(JsonSerializer.SerializeToElement(draft.Body));
        foreach (var fault in reading.Faults)
        {
            Fail(draft.Source(fault.Pointer) ?? at, fault.Detail);
        }

        if (reading.Fact is { } read)
        {
            var (line, column) = JsonPath.Place(root, at);
            to.Add(new(read with { Id = FactIds.OfContent(read.ContentHash) }, at, line, column));
        }
    }

    private void CheckReferences()
    {
        var references = new MasterDataReferences(root, [.. _facts.Select(f => f.Fact.Fact)], isKnown);
        foreach (var fact in _facts)
        {
            foreach (var (pointer, detail) in references.Missing(fact.Fact.Fact))
            {
                Fail(fact.Pointer + pointer, detail);
            }
        }
    }

    private void CheckNames(PlacedMap map, string pointer, string[] known)
    {
        foreach (var member in map.Members)
        {
            if (!known.Contains(member.Name, StringComparer.Ordinal))
            {
                Fail(JsonPath.Append(pointer, member.Name), $"The member '{member.Name}' is not known here.{Suggestions.Hint(member.Name, known)}");
            }
        }
    }

    // An error in what all entries share would come back with every one.
    private void Fail(string pointer, string detail)
    {
        if (_told.Add((pointer, detail)))
        {
            var (line, column) = JsonPath.Place(root, pointer);
            _errors.Add(new(pointer, line, column, detail));
        }
    }

    private sealed class FactDraft(string type)
    {
        private readonly List<(string To, string Source)> _sources = [];

        public JsonObject Body { get; } = new() { ["type"] = type };

        public void Set(string to, PlacedMember? member, string source)
        {
            _sources.Add((to, source));
            if (member is null)
            {
                return;
            }

            var parts = to[1..].Split('/');
            var at = Body;
            foreach (var part in parts[..^1])
            {
                at[part] ??= new JsonObject();
                at = at[part]!.AsObject();
            }

            at[parts[^1]] = NodeJson.Of(member.Value, member.Name);
        }

        // Where in the file a place in the fact comes from; null: the entry as a whole.
        public string? Source(string pointer)
        {
            foreach (var (to, source) in _sources)
            {
                if (pointer == to || pointer.StartsWith(to + "/", StringComparison.Ordinal))
                {
                    return source + pointer[to.Length..];
                }
            }

            return null;
        }
    }
}
