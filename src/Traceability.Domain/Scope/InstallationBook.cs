namespace Traceability.Domain.Scope;

/// <summary>The installations that have been looked up, by component.</summary>
internal sealed class InstallationBook
{
    private readonly Dictionary<string, List<InstallationRow>?> _rows = new(StringComparer.Ordinal);

    /// <summary>The number of components that were looked up.</summary>
    public int Count => _rows.Count;

    /// <summary>Those of the components that haven't been looked up yet; they count as looked up from here on.</summary>
    public List<string> Missing(IEnumerable<string> components)
    {
        var missing = new List<string>();
        foreach (var component in components)
        {
            if (_rows.TryAdd(component, null))
            {
                missing.Add(component);
            }
        }

        return missing;
    }

    /// <summary>Takes what was found.</summary>
    public void Add(IReadOnlyList<InstallationRow> found)
    {
        foreach (var row in found)
        {
            ref var rows = ref System.Runtime.InteropServices.CollectionsMarshal.GetValueRefOrAddDefault(_rows, row.Component, out _);
            (rows ??= new(1)).Add(row);
            if (rows.Count > 1)
            {
                rows.Sort(static (a, b) => Compare(a, b));
            }
        }
    }

    // By time; of equal ones in an order of their own, so that the same way is told every time.
    private static int Compare(InstallationRow a, InstallationRow b)
    {
        var byTime = a.From.CompareTo(b.From);
        return byTime != 0 ? byTime : a.RowId != b.RowId ? a.RowId.CompareTo(b.RowId) : string.CompareOrdinal(a.Parent, b.Parent);
    }

    /// <summary>Where a unit that was looked up was and is.</summary>
    public IReadOnlyList<InstallationRow> Of(string component) => _rows[component] ?? (IReadOnlyList<InstallationRow>)[];

    /// <summary>The unit that it is inside of now, or null. Should records contradict each other, the last one counts.</summary>
    public string? ParentNow(string component)
    {
        InstallationRow? last = null;
        foreach (var row in Of(component))
        {
            if (row.To is null && (last is not { } known || row.From > known.From))
            {
                last = row;
            }
        }

        return last?.Parent;
    }
}
