using System.Globalization;

namespace Traceability.Client.Outbox.Storage;

/// <summary>Opens an outbox's file and finds out whether it is whole; a damaged one is put aside and what can be saved goes into a new one.</summary>
internal static class OutboxSalvage
{
    private const string Wal = OutboxFile.Name + "-wal";
    private const string Rebuilt = "outbox.rebuilt.db";
    private const string LogCopy = "outbox.log-before.";

    /// <summary>Opens or makes the file.</summary>
    /// <param name="folder">The outbox's folder, locked for this process.</param>
    /// <param name="mark">How far it had got.</param>
    /// <param name="now">The terminal's time.</param>
    public static (OutboxFile File, OutboxDamage? Damage) Open(string folder, OutboxMark mark, DateTimeOffset now)
    {
        var path = Path.Combine(folder, OutboxFile.Name);
        var rebuilt = Path.Combine(folder, Rebuilt);
        if (!File.Exists(path) && File.Exists(rebuilt))
        {
            // An earlier salvage ended between putting the old file aside and taking the new one.
            File.Move(rebuilt, path);
        }

        // Opening the file takes the log's changes over and lets go of it: what is wrong with the log shows only afterwards.
        var log = Path.Combine(folder, Wal);
        if (File.Exists(log))
        {
            File.Copy(log, Path.Combine(folder, LogCopy + Logs(folder).Length.ToString(CultureInfo.InvariantCulture)));
        }

        var before = mark.Read() ?? (0, 0);
        var (file, reasons) = TryOpen(path, before.Last);
        if (reasons.Count == 0)
        {
            Array.ForEach(Logs(folder), File.Delete);
            return (file!, null);
        }

        file?.Dispose();
        var damage = Salvage(folder, before, reasons, now);
        return (OutboxFile.Open(path), damage);
    }

    private static string[] Logs(string folder) => [.. Directory.GetFiles(folder, LogCopy + "*").Order(StringComparer.Ordinal)];

    private static (OutboxFile? File, List<string> Reasons) TryOpen(string path, long lastKnown)
    {
        if (!File.Exists(path) && lastKnown > 0)
        {
            return (null, ["The file is gone."]);
        }

        OutboxFile? file = null;
        try
        {
            file = OutboxFile.Open(path);
            var reasons = file.Check();
            var last = 0L;
            foreach (var (row, isWhole) in reasons.Count == 0 ? file.Rows() : [])
            {
                last = row.Number;
                if (!isWhole)
                {
                    reasons.Add(string.Create(CultureInfo.InvariantCulture, $"Entry {row.Number} does not fit to its checksum."));
                }
            }

            if (reasons.Count == 0 && last < lastKnown)
            {
                reasons.Add(string.Create(CultureInfo.InvariantCulture, $"The last entry is {last}; {lastKnown} had been taken in."));
            }

            return (file, reasons);
        }
        catch (Exception e) when (OutboxFile.IsDamage(e))
        {
            file?.Dispose();
            return (null, [e.Message]);
        }
        catch
        {
            file?.Dispose();
            throw;
        }
    }

    // In this order, so that it can be broken off anywhere and done again: read, write anew beside, put aside, take the new one.
    private static OutboxDamage Salvage(string folder, (long Last, long Open) before, List<string> reasons, DateTimeOffset now)
    {
        var path = Path.Combine(folder, OutboxFile.Name);
        string[] files = [.. ((string[])[path]).Where(File.Exists), .. Logs(folder)];
        var (rows, known, broken) = Collect(folder, files);

        var aside = Path.Combine(folder, "damaged-" + now.UtcDateTime.ToString("yyyyMMdd'T'HHmmssfff'Z'", CultureInfo.InvariantCulture));
        string[] moved = [.. files.Select(f => Path.Combine(aside, Path.GetFileName(f)))];

        // At least: the numbers after the last one that was found, and those that were seen and can't be read; or what fewer are open.
        var last = rows.Count == 0 ? 0 : rows.Keys.Max();
        var gone = Math.Max(0, before.Last - last) + broken.Count(n => !rows.ContainsKey(n) && n <= last);
        var missing = (int)Math.Max(gone, before.Open - rows.Values.Count(r => r.State is OutboxState.Waiting or OutboxState.Refused));
        var damage = new OutboxDamage(now, reasons, moved, known, rows.Count - known, missing, MayMissMore: true);
        var rebuilt = Path.Combine(folder, Rebuilt);
        DeleteDatabase(rebuilt);
        using (var fresh = OutboxFile.Open(rebuilt))
        {
            fresh.Begin();
            foreach (var row in rows.Values)
            {
                fresh.Insert(row);
            }

            fresh.SetNote(OutboxNotes.Damage, OutboxNotes.Write(damage));
            fresh.Commit();
        }

        Directory.CreateDirectory(aside);
        for (var i = 0; i < files.Length; i++)
        {
            File.Move(files[i], moved[i]);
        }

        // A log that is left would be taken for the new file's own.
        DeleteDatabase(path);
        File.Move(rebuilt, path);
        return damage;
    }

    private static void DeleteDatabase(string path)
    {
        foreach (var part in (string[])[string.Empty, "-wal", "-shm", "-journal"])
        {
            File.Delete(path + part);
        }
    }

    // Rows whose checksum fits, as the structure gives them; beside them whatever stands whole in the bytes, which waits again.
    private static (SortedDictionary<long, StoredRow> Rows, int Known, List<long> Broken) Collect(string folder, string[] files)
    {
        var rows = new SortedDictionary<long, StoredRow>();
        List<long> broken = [];
        var ids = new HashSet<Guid>();
        var scratch = Path.Combine(folder, "salvage");
        Directory.CreateDirectory(scratch);
        var copy = Path.Combine(scratch, OutboxFile.Name);
        DeleteDatabase(copy);
        if (files.Length > 0 && Path.GetFileName(files[0]) == OutboxFile.Name)
        {
            File.Copy(files[0], copy);
            if (files.Length > 1)
            {
                File.Copy(files[1], copy + "-wal");
            }

            foreach (var (row, isWhole) in OutboxFile.ReadWhatCanBe(copy))
            {
                if (isWhole && Capsule.TryRead(row.Whole, out var head, out _, out _) && ids.Add(head.FactId))
                {
                    rows[row.Number] = row;
                }
                else
                {
                    broken.Add(row.Number);
                }
            }
        }

        Directory.Delete(scratch, recursive: true);
        var known = rows.Count;
        foreach (var (head, whole) in files.SelectMany(f => Capsule.FindAll(File.ReadAllBytes(f))))
        {
            if (!rows.ContainsKey(head.Number) && ids.Add(head.FactId))
            {
                rows[head.Number] = new(head.Number, whole, OutboxState.Waiting, null);
            }
        }

        return (rows, known, broken);
    }
}
