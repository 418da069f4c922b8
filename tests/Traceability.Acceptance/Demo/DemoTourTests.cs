using System.Diagnostics;
using System.Text.Json;
using System.Text.RegularExpressions;

namespace Traceability.Acceptance.Demo;

/// <summary>The tour of the demo, run by a shell as it is written; only the port is another one.</summary>
public sealed partial class DemoAgainstTruthTests
{
    [Fact]
    public async Task The_tour_of_the_demo_works_as_written_and_finds_what_it_says()
    {
        var tour = await File.ReadAllTextAsync(Path.Combine(Root(), "docs", "tutorial", "demo.md"));
        var script = string.Join('\n', Blocks().Matches(tour).Select(m => m.Groups["script"].Value));
        Assert.Contains("http://127.0.0.1:5080", script, StringComparison.Ordinal);
        var folder = Directory.CreateTempSubdirectory("traceability-demo-tour-");
        try
        {
            Directory.CreateSymbolicLink(Path.Combine(folder.FullName, "data"), _demo.Service.DataFolder);
            var answers = await RunAsync(script.Replace("http://127.0.0.1:5080", _demo.Service.Address.ToString().TrimEnd('/'), StringComparison.Ordinal), folder.FullName);

            Assert.Equal(38, answers.Count);
            Assert.DoesNotContain(answers, a => a.ValueKind == JsonValueKind.Object && a.TryGetProperty("code", out _));
            var truth = _demo.Plant.Truth;
            Assert.Equal(
                [$"lot {truth.BadItem}/{truth.BadLot}", $"tool {truth.BadTool}", $"container {truth.BadContainerItem}/{truth.BadContainerLot}/{truth.BadContainer}"],
                answers.Take(3).Select(a => a.GetProperty("groups")[0].GetProperty("factors")[0]).Select(f => $"{f.GetProperty("kind").GetString()} {f.GetProperty("name").GetString()}"));
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static async Task<List<JsonElement>> RunAsync(string script, string folder)
    {
        using var shell = new Process
        {
            StartInfo = new("bash", ["-euo", "pipefail", "-c", script]) { WorkingDirectory = folder, RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false },
        };
        shell.Start();
        using var patience = new CancellationTokenSource(TimeSpan.FromMinutes(2));
        var errors = shell.StandardError.ReadToEndAsync(patience.Token);
        var output = await shell.StandardOutput.ReadToEndAsync(patience.Token);
        await shell.WaitForExitAsync(patience.Token);
        Assert.True(shell.ExitCode == 0, await errors);
        return [.. output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => JsonSerializer.Deserialize<JsonElement>(l))];
    }

    private static string Root()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "README.md")))
        {
            folder = folder.Parent;
        }

        return folder?.FullName ?? throw new InvalidOperationException("No README.md above the tests.");
    }

    [GeneratedRegex("```bash\n(?<script>.*?)```", RegexOptions.Singleline | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Blocks();
}
