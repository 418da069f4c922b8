using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>What the first rows that a walk read say, so that a small scope needn't ask for its evidence again.</summary>
internal sealed class SeenEvidence
{
    private readonly Dictionary<EvidenceKey, EvidenceRow> _rows = [];

    /// <summary>So many are kept.</summary>
    public int Most { get; set; } = 500;

    /// <summary>Whether another one is kept.</summary>
    public bool HasRoom => _rows.Count < Most;

    /// <summary>Keeps what a row says; a row may be read more than once.</summary>
    public void Add(EvidenceKey key, EvidenceRow says) => _rows[key] = says;

    /// <summary>What these rows say, as far as they are kept, and which aren't.</summary>
    public (Dictionary<EvidenceKey, EvidenceRow> Found, List<EvidenceKey> Others) Find(IEnumerable<EvidenceKey> keys)
    {
        var found = new Dictionary<EvidenceKey, EvidenceRow>();
        var others = new List<EvidenceKey>();
        foreach (var key in keys.Distinct())
        {
            if (_rows.TryGetValue(key, out var row))
            {
                found.Add(key, row);
            }
            else
            {
                others.Add(key);
            }
        }

        return (found, others);
    }
}
